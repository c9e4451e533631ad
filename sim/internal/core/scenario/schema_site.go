package scenario

import "ridethrough/sim/internal/core/vtime"

type groupTable struct {
	table
	Name     string     `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores."`
	OnDelay  vtime.Tick `key:"on_delay" def:"0s" min:"0s" max:"1h" doc:"From the output coming on to the outlets coming on."`
	OffDelay vtime.Tick `key:"off_delay" def:"none" word:"none" min:"0s" max:"24h" doc:"Switches the group off this long after a shutdown countdown was started; none: together with the output."`
	Unit     *string    `key:"unit" auto:"the first" doc:"Name of the [[unit]] that feeds it."`
	FedBy    string     `key:"fed_by" def:"ups" one:"ups|mains" doc:"What feeds it: the UPS, or the site's supply past the UPS. A group on mains is dead from where the supply falls below 70 % of nominal to where it is at 80 % again, and nobody switches it."`

	Label       string      `key:"label" def:"" max:"63" ascii:"yes" doc:"What it is called on site."`
	ControlPath bool        `key:"control_path" def:"false" doc:"It feeds what orders travel over: no other group may come on before it or go off after it."`
	ShedAfter   *vtime.Tick `key:"shed_after" auto:"not used" min:"1s" max:"24h" doc:"Goes off after this long on battery, until the mains are back."`
	ShedRuntime *vtime.Tick `key:"shed_runtime" auto:"not used" min:"1s" max:"24h" doc:"Goes off on battery below this estimated runtime, until the mains are back."`
	ShedPct     *int64      `key:"shed_charge_pct" auto:"not used" min:"1" max:"95" doc:"Goes off on battery below this charge, until the mains are back."`
	MinPct      *int64      `key:"min_charge_pct" auto:"not used" min:"1" max:"95" doc:"Does not come on below this charge."`
	MinOff      vtime.Tick  `key:"min_off" def:"0s" min:"0s" max:"1h" doc:"Once off it stays off for at least this long."`

	Inrush *inrushTable `key:"inrush" auto:"none" doc:"What it takes when its outlets become live."`
}

type inrushTable struct {
	table
	Times float64    `key:"times" def:"3" min:"1" max:"50" doc:"Times the nominal current of its hosts."`
	Lasts vtime.Tick `key:"lasts" def:"100ms" min:"1ms" max:"1m" doc:"For this long."`
}

type hostTable struct {
	table
	Name        string      `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores, starting with a letter."`
	Group       *string     `key:"group" auto:"the only group" doc:"Outlet group that feeds it."`
	Groups      []string    `key:"groups" max:"4" doc:"Outlet groups that feed it, one for each of its supplies, instead of group. The load is shared between those that are live, and it is cut when none is."`
	Believed    []string    `key:"believed_groups" max:"4" auto:"the groups that feed it" doc:"Groups that the card was told feed it, if that is wrong: what it lists, and what its caution before switching names."`
	Supplies    *int64      `key:"supplies_needed" auto:"1" min:"1" max:"4" doc:"How many of its supplies have to be live for it to work. The policy stops it when fewer would stay."`
	Line        *int64      `key:"line" auto:"spread over all lines" min:"1" max:"3" doc:"Output line of the unit that feeds it."`
	DrawW       float64     `key:"draw_w" need:"yes" min:"0" max:"100000" doc:"What it draws while it runs, starts or stops."`
	IdleW       float64     `key:"idle_w" def:"5" min:"0" max:"100000" doc:"What it draws while stopped with a live outlet."`
	PowerFactor float64     `key:"power_factor" def:"0.95" min:"0.3" max:"1" doc:"Its power factor."`
	HoldUp      vtime.Tick  `key:"hold_up" def:"20ms" min:"0ms" max:"10s" doc:"Longest gap of the supply that it rides through."`
	StopTakes   vtime.Tick  `key:"stop_takes" def:"2m" min:"0s" max:"24h" doc:"From the order to stop to stopped."`
	BootTakes   vtime.Tick  `key:"boot_takes" def:"3m" min:"0s" max:"24h" doc:"From power to running."`
	Needs       []string    `key:"needs" max:"500" doc:"Hosts that it needs while it runs and stops: they stop after it."`
	Restart     string      `key:"restart" def:"on" one:"on|last|off" doc:"When its outlet comes back: on starts it, last starts it unless it had been stopped, off leaves it off."`
	Process     []string    `key:"process" min:"1" max:"64" doc:"Program and arguments of a real process that plays this host. Without it the host is modelled."`
	Hangs       bool        `key:"hangs" def:"false" doc:"It never finishes stopping."`
	Channel     string      `key:"channel" def:"works" one:"works|refuses|rejects-credentials|accepts-and-does-nothing|certificate-expired" doc:"What the policy's order to stop meets: nobody takes the connection, the login is not accepted, the order is taken and nothing comes of it, or the certificate has expired. What is not taken is tried again with each poll until the deadline of the host. A contact or somebody at the host needs no channel."`
	Wired       *wiredTable `key:"wired" auto:"none" doc:"It is also wired to a relay output of the card, and stops by it, whatever the network does."`
}

type wiredTable struct {
	table
	Output int64      `key:"output" need:"yes" min:"1" max:"4" doc:"Relay output of the card."`
	When   string     `key:"when" def:"closed" one:"closed|open" doc:"Position of its contact at which the host stops."`
	For    vtime.Tick `key:"for" def:"30s" min:"0s" max:"24h" doc:"How long the contact has to be there without a break."`
}

type policyTable struct {
	table
	Peer      *string    `key:"peer" auto:"it reaches the card while that has an address" doc:"Name of the [[peer]] that it runs on: polls and orders pass only if that and the card reach each other."`
	Version   string     `key:"version" def:"v2c" one:"v1|v2c|v3" doc:"SNMP version in which it asks and orders. A card that does not speak it, or whose access list does not name the machine, is silent. With v3 it may read and write, unless as says who it is."`
	As        *asTable   `key:"as" auto:"a user of whom nothing is wrong" doc:"Who it is in v3. To order it needs a user whose write view holds upsControl."`
	Read      *string    `key:"read_community" auto:"that which [card] begins with" max:"32" ascii:"yes" secret:"yes" doc:"Community of v1 and v2c with which it reads, whatever is set on the card later: a card that knows another one is silent, and says so in its journal."`
	Write     *string    `key:"write_community" auto:"that which [card] begins with" max:"32" ascii:"yes" secret:"yes" doc:"Likewise the community with which it orders."`
	Units     string     `key:"units" def:"all" one:"all|first" doc:"With [[unit]]: it watches all of them, each for what it feeds, and leaves a machine at work that keeps enough of its supplies; or the first alone, which is wrong, on purpose."`
	PollEvery vtime.Tick `key:"poll_every" def:"10s" min:"100ms" max:"1h" doc:"Time between two polls of the card."`
	Timeout   vtime.Tick `key:"timeout" def:"2s" min:"10ms" max:"1m" doc:"How long it waits for the answer to a request: over a link that takes longer (network.delay) it gets none."`
	Retries   int64      `key:"retries" def:"1" min:"0" max:"20" doc:"How often it repeats a request, of reading or of writing, that is not answered."`
	Confirm   int64      `key:"confirm" def:"1" min:"1" max:"100" doc:"Polls in a row that must agree before it acts."`

	OnBatteryFor   *vtime.Tick `key:"on_battery_for" auto:"not used" min:"1s" max:"24h" doc:"Trigger: this long on battery."`
	RuntimeBelow   *vtime.Tick `key:"runtime_below" auto:"not used" min:"1s" max:"24h" doc:"Trigger: estimated runtime below this."`
	ChargeBelowPct *float64    `key:"charge_below_pct" auto:"not used" min:"0.1" max:"100" doc:"Trigger: charge below this."`
	OnLowBattery   bool        `key:"on_low_battery" def:"false" doc:"Trigger: the card says that the battery is low or depleted."`
	InletAboveC    *float64    `key:"inlet_above_c" auto:"not used" min:"0" max:"80" doc:"Trigger, on mains too: the probe inlet_probe shows more than this. What it stops stays off until policy = \"start\" in the timeline: somebody has to see why it was warm."`
	InletProbe     *string     `key:"inlet_probe" auto:"none" doc:"With inlet_above_c: name of the [[probe]], as the card shows it. One that is lost triggers nothing."`
	Believe        believe     `key:"believe" doc:"How it reads the card. The second word of each is wrong, on purpose, unless a quirk of the card makes it right."`

	HostDeadline vtime.Tick `key:"host_deadline" def:"5m" min:"1s" max:"24h" doc:"How long it waits for one host to stop before it goes on without it."`
	Order        string     `key:"order" def:"by-needs" one:"by-needs|all-at-once" doc:"Whether a host is stopped before those that it needs, or all together."`
	OffDelay     vtime.Tick `key:"off_delay" def:"60s" min:"0s" max:"24h" doc:"Shutdown countdown that it orders from the UPS."`
	OffWhen      string     `key:"off_when" def:"stopped" one:"stopped|at-once" doc:"Order it when all hosts have stopped or passed their deadline, or together with the orders to stop."`
	StartDelay   vtime.Tick `key:"start_delay" def:"none" word:"none" min:"0s" max:"24h" doc:"Startup countdown that it arms with the order to switch off."`
	DualFed      string     `key:"dual_fed" def:"spare" one:"spare|stop" doc:"Hosts with enough other live supplies, past the UPS or of a unit that is not being stopped: left at work, or stopped with the others, which is wrong, on purpose."`
	OnReturn     string     `key:"on_return" def:"finish" one:"finish|cancel|ignore" doc:"When the mains return after it began: finish cancels before the first host was told to stop and else finishes the cycle, cancel always cancels, ignore always goes on."`
	MinOff       vtime.Tick `key:"min_off" def:"10s" min:"0s" max:"24h" doc:"Gate before restart: the output is off at least this long."`
	MinChargePct float64    `key:"min_charge_pct" def:"0" min:"0" max:"100" doc:"Gate before restart: at least this charge."`
}

type believe struct {
	table
	Timer       string `key:"timer" def:"own" one:"own|card" doc:"Time on battery by its own clock, or by the card's counter, which a restart of the card resets."`
	RuntimeUnit string `key:"runtime_unit" def:"minutes" one:"minutes|seconds" doc:"Unit of the estimated runtime."`
	Silence     string `key:"silence" def:"worst" one:"worst|mains" doc:"No answer while on battery: assume the worst and keep counting, or take it for mains."`
	Countdown   string `key:"countdown" def:"verify" one:"verify|trust" doc:"The countdown to off that it ordered: read back with every poll and ordered again if it is gone, or never looked at, which a restart of the card can make wrong."`
	Unknown     string `key:"unknown" def:"keep" one:"keep|mains" doc:"An answer that does not tell what feeds the output, while on battery: what was known before holds, or it is taken for mains."`
	Invalid     string `key:"invalid" def:"refuse" one:"refuse|accept" doc:"A runtime below a minute or a charge beyond 0 to 100 %: unknown, or taken as it is."`
	Failure     string `key:"failure" def:"result" one:"result|alarms" doc:"A battery that failed its test, for which the policy calls for service: by the result of the test too, or by the alarm table alone."`
	Jumps       string `key:"jumps" def:"accept" one:"accept|distrust" doc:"A runtime or charge that falls to less than a sixth from one poll to the next: taken as it is, or not believed until it is back."`
	Tests       string `key:"tests" def:"ignore" one:"ignore|count" doc:"Battery operation during a self test: ignored, or counted as an outage."`
	Mains       string `key:"mains" def:"respect" one:"respect|ignore" doc:"While the output is on mains: no runtime, charge or low battery is a reason to act, or it is."`
	Sample      string `key:"sample" def:"fresh" one:"fresh|last" doc:"It acts on what it has just read, or on what it read with the poll before."`
	Inlet       string `key:"inlet" def:"probe" one:"probe|battery" doc:"With inlet_above_c: the temperature of the probe, or that of the battery (upsBatteryTemperature), which is inside the unit and tells little of the room."`
	Outages     string `key:"outages" def:"each" one:"each|first" doc:"After an outage in which it began to stop hosts: armed again for the next, or never."`
}
