package expect

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Kind is the type of a value in a condition.
type Kind uint8

// Kinds.
const (
	YesNo   Kind = iota // true or false
	Number              // with a fraction, in the unit that the name ends with
	Count               // whole number
	Word                // one of a fixed set of words
	Address             // network address, "" while there is none
)

// String is a word for k.
func (k Kind) String() string {
	return [...]string{"yes/no", "number", "count", "word", "address"}[k]
}

// Variable is one value that a condition may look at. NAME in its name stands
// for the name of a host or a group of the scenario.
type Variable struct {
	Name  string
	Kind  Kind
	Words []string // what a Word can be
	Doc   string

	yes  func(*snap.Site) bool
	num  func(*snap.Site) float64
	code func(*snap.Site) uint8 // index into Words
	addr func(*snap.Site) netip.Addr
}

// Variables lists everything that a condition may look at, in the order of the
// documentation; hosts and groups appear once, as NAME.
func Variables() []Variable {
	list := siteVariables()
	list = append(list, alarmVariables()...)
	list = append(list, hostVariables("NAME", 0)...)
	list = append(list, groupVariables("NAME", 0)...)
	list = append(list, probeVariables("NAME")...)
	list = append(list, contactVariables("NAME")...)
	list = append(list, recipientVariables("NAME")...)
	list = append(list, collectorVariables("NAME")...)
	list = append(list, sinkVariables(SinkNames{Name: "NAME", Matches: []string{"MATCH"}}, 0)...)
	list = append(list, peerVariables("NAME", 0)...)
	list = append(list, switchVariables("NAME", 0)...)
	return append(list, sentVariables()...)
}

func siteVariables() []Variable {
	var list []Variable
	for _, part := range [][]Variable{
		supplyVariables(), roomVariables(), unitVariables(), controlVariables(), pathVariables(), batteryVariables(), outletVariables(), cardVariables(), lampVariables(), signInVariables(), usmVariables(), networkVariables(), clockVariables(), firmwareVariables(), upkeepVariables(), countVariables(), policyVariables(), monitorVariables(), relayVariables(), allPostVariables(),
	} {
		list = append(list, part...)
	}
	return list
}

func unitVariables() []Variable {
	return []Variable{
		word("ups.source", "what feeds the output", sourceWords(),
			func(s *snap.Site) uint8 { return uint8(s.UPS.Source) - 1 }),
		yesNo("ups.on_battery", "the output is fed from the battery",
			func(s *snap.Site) bool { return s.UPS.Source == snap.SourceBattery }),
		number("ups.on_battery_s", "seconds on battery as the card counts them: from the transfer or the card's start, whichever came later; 0 off battery",
			func(s *snap.Site) float64 { return sinceS(s.Tick, s.UPS.OnBatterySince) }),
		yesNo("ups.output_on", "the output is on",
			func(s *snap.Site) bool { return s.UPS.OutputOn }),
		number("ups.load_w", "true watts at the output",
			func(s *snap.Site) float64 { return s.Power.OutputW }),
		number("ups.load_pct", "load in percent of the rating, by watts or volt-amperes, whichever is more",
			func(s *snap.Site) float64 { return s.Power.LoadPct }),
		number("ups.runtime_min", "the unit's estimate of its runtime in minutes",
			func(s *snap.Site) float64 { return s.Battery.RuntimeS / 60 }),
		count("ups.transfers", "times that the output went from mains to battery",
			func(s *snap.Site) float64 { return float64(s.Transfers) }),
		count("ups.line_bads", "times that the input went out of tolerance, for as long as upkeep.input.least-time says",
			func(s *snap.Site) float64 { return float64(s.UPS.LineBads) }),
	}
}

func controlVariables() []Variable {
	return []Variable{
		number("ups.shutdown_in_s", "seconds to the ordered shutdown, -1 if none is ordered",
			func(s *snap.Site) float64 { return untilS(s.Tick, s.Control.ShutdownAt) }),
		number("ups.startup_in_s", "seconds to the ordered startup, -1 if none is ordered",
			func(s *snap.Site) float64 { return untilS(s.Tick, s.Control.StartupAt) }),
		number("ups.reboot_in_s", "seconds to the end of the running reboot, -1 if there is none",
			func(s *snap.Site) float64 { return untilS(s.Tick, s.Control.RebootUntil) }),
		word("ups.test", "the test that runs or ran last", testWords(),
			func(s *snap.Site) uint8 { return uint8(s.Test.ID) - 1 }),
		word("ups.test_result", "how it went", resultWords(),
			func(s *snap.Site) uint8 { return uint8(s.Test.Result) - 1 }),
	}
}

func batteryVariables() []Variable {
	return []Variable{
		number("battery.charge_pct", "true charge in percent",
			func(s *snap.Site) float64 { return s.ChargePct }),
		number("battery.shown_pct", "charge in percent as the unit shows it",
			func(s *snap.Site) float64 { return s.Battery.ChargePct }),
		number("battery.true_runtime_min", "minutes that the battery as it is carries the present load, or would if the mains failed now",
			func(s *snap.Site) float64 { return s.TrueRuntimeS / 60 }),
		number("battery.health_pct", "true capacity of the worst block at 25 degrees Celsius in percent of the rated one, 0 if every string is open",
			func(s *snap.Site) float64 { return s.HealthPct }),
		number("battery.shown_health_pct", "capacity in percent of the rated one as the unit knows it: 100 until a calibration has found another",
			func(s *snap.Site) float64 { return s.Battery.HealthPct }),
		number("battery.volts", "volts of the whole string",
			func(s *snap.Site) float64 { return s.Battery.Volts }),
		number("battery.amps", "amperes, positive while discharging",
			func(s *snap.Site) float64 { return s.Battery.Amps }),
		number("battery.temp_c", "battery temperature in degrees Celsius",
			func(s *snap.Site) float64 { return s.Battery.TempC }),
		word("battery.status", "as the unit shows it", batteryWords(),
			func(s *snap.Site) uint8 { return uint8(s.Battery.Status) - 1 }),
	}
}

func cardVariables() []Variable {
	return []Variable{
		word("card.state", "where the card is in its life", cardWords(),
			func(s *snap.Site) uint8 { return uint8(s.Card.State) }),
		word("card.stage", "how far it has come with its start, \"\" while it does not start", bootWords(),
			func(s *snap.Site) uint8 { return uint8(s.Card.Stage(s.Tick)) }),
		yesNo("card.ups_link", "the card has contact with the unit; true while it is not running",
			func(s *snap.Site) bool { return !s.Card.UnitLost }),
		number("card.data_age_s", "how old what the card shows of the unit is, in seconds; 0 with contact",
			func(s *snap.Site) float64 { return dataAge(s) }),
		count("card.boots", "starts of the card's agent so far",
			func(s *snap.Site) float64 { return float64(s.Card.Boots) }),
		{Name: "card.address", Kind: Address, Doc: "the card's network address, \"\" while it has none; only ==, != and in",
			addr: func(s *snap.Site) netip.Addr { return s.Card.Address.Prefix.Addr() }},
		word("card.address_state", "how the card stands with its address", addressWords,
			func(s *snap.Site) uint8 { return indexOf(addressWords, s.Card.Address.State) }),
	}
}

func countVariables() []Variable {
	return []Variable{
		count("hosts_running", "hosts at work",
			func(s *snap.Site) float64 { return countState(s, snap.HostRunning) }),
		count("hosts_stopped", "hosts that stopped by themselves and have a live outlet",
			func(s *snap.Site) float64 { return countState(s, snap.HostStopped) }),
		count("hosts_cut", "times that any host lost its power while booting, running or stopping",
			func(s *snap.Site) float64 { return countCuts(s) }),
	}
}

func policyVariables() []Variable {
	return []Variable{
		yesNo("policy.called", "the modelled shutdown manager has called for service of a battery that failed its test",
			func(s *snap.Site) bool { return s.Called }),
		count("policy.shutdowns", "times that it began to stop hosts",
			func(s *snap.Site) float64 { return float64(s.Shutdowns) }),
		count("policy.refused", "its orders to stop that the channel of a host did not take, over all hosts",
			func(s *snap.Site) float64 { return countRefused(s) }),
		word("policy.stage", "where the modelled shutdown manager is", stageWords(),
			func(s *snap.Site) uint8 { return uint8(s.Policy) }),
	}
}

func alarmVariables() []Variable {
	list := []Variable{count("alarms.count", "rows in the alarm table",
		func(s *snap.Site) float64 { return float64(s.Alarms.Count) })}
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		list = append(list, yesNo("alarms."+k.String(), "this alarm is present",
			func(s *snap.Site) bool { return s.Alarms.Has(k) }))
	}
	return list
}

func sentVariables() []Variable {
	var list []Variable
	for k := snap.NotifyKind(1); k < snap.NotifyKinds; k++ {
		list = append(list, count("sent."+k.String(), "notifications of this kind that the card has issued",
			func(s *snap.Site) float64 { return float64(s.Sent[k]) }))
	}
	return append(list, informVariables()...)
}

func informVariables() []Variable {
	var list []Variable
	for k := snap.NotifyKind(1); k < snap.NotifyKinds; k++ {
		list = append(list,
			count("acknowledged."+k.String(), "informs of this kind that a receiver acknowledged; in a run only a sink does",
				func(s *snap.Site) float64 { return float64(s.Acked[k]) }),
			count("unacknowledged."+k.String(), "informs of this kind that were given up without an acknowledgement, likewise",
				func(s *snap.Site) float64 { return float64(s.Unacked[k]) }))
	}
	return list
}

func hostVariables(name string, i int) []Variable {
	p := "hosts." + name + "."
	return []Variable{
		word(p+"state", "where the host is in its life", hostWords(),
			func(s *snap.Site) uint8 { return uint8(s.Hosts[i].State) }),
		word(p+"ended", "how its last run ended, \"\" while none has ended", endedWords,
			func(s *snap.Site) uint8 { return indexOf(endedWords, s.Hosts[i].Ended) }),
		yesNo(p+"powered", "its outlet is live",
			func(s *snap.Site) bool { return s.Hosts[i].Powered }),
		count(p+"starts", "times it came to running, not counting the state at the start",
			func(s *snap.Site) float64 { return float64(s.Hosts[i].Starts) }),
		count(p+"stops", "times it stopped cleanly",
			func(s *snap.Site) float64 { return float64(s.Hosts[i].Stops) }),
		count(p+"cuts", "times it lost its power while booting, running or stopping",
			func(s *snap.Site) float64 { return float64(s.Hosts[i].Cuts) }),
		number(p+"draw_w", "watts that it draws",
			func(s *snap.Site) float64 { return s.Hosts[i].DrawW }),
		word(p+"channel", "what the policy's order to stop meets", wordsFrom(snap.ChannelWorks, snap.ChannelExpired, snap.Channel.String),
			func(s *snap.Site) uint8 { return uint8(s.Hosts[i].Channel) }),
		count(p+"refused", "orders to stop that its channel did not take",
			func(s *snap.Site) float64 { return float64(s.Hosts[i].Refused) }),
	}
}

func countRefused(s *snap.Site) (n float64) {
	for i := range s.Hosts {
		n += float64(s.Hosts[i].Refused)
	}
	return n
}

// sinceS is the seconds from then to now, 0 if then is never.
func sinceS(now, then vtime.Tick) float64 {
	if then == vtime.Never {
		return 0
	}
	return (now - then).Seconds()
}

// dataAge is how long the card has had no contact with the unit, in seconds.
func dataAge(s *snap.Site) float64 {
	if !s.Card.UnitLost {
		return 0
	}
	return (s.Tick - s.Card.UnitSince).Seconds()
}

// untilS is the seconds from now to then, -1 if then is never.
func untilS(now, then vtime.Tick) float64 {
	if then == vtime.Never {
		return -1
	}
	return (then - now).Seconds()
}

func countState(s *snap.Site, state snap.HostState) float64 {
	n := 0
	for i := range s.Hosts {
		if s.Hosts[i].State == state {
			n++
		}
	}
	return float64(n)
}

func countCuts(s *snap.Site) float64 {
	n := 0
	for i := range s.Hosts {
		n += s.Hosts[i].Cuts
	}
	return float64(n)
}
