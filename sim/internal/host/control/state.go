package control

import "ridethrough/sim/internal/core/snap"

// State is the truth about the site, in the units that the names give.
type State struct {
	TimeS float64 `json:"t_s"`
	UnitState
	Hosts  []HostState          `json:"hosts"`
	Groups map[string]bool      `json:"groups"`
	Loads  map[string]float64   `json:"group_loads_w"`
	Causes map[string]string    `json:"group_causes"`
	Units  map[string]UnitState `json:"units,omitempty"` // the further ones, by name
}

// UnitState is the truth about one unit with its card.
type UnitState struct {
	Source   FeedState      `json:"source"`
	UPS      UPSState       `json:"ups"`
	Battery  BatteryState   `json:"battery"`
	Card     CardState      `json:"card"`
	Policy   string         `json:"policy"`
	Alarms   []string       `json:"alarms"`
	Locked   bool           `json:"locked"`
	Notified map[string]int `json:"notified"`
}

// FeedState is the supply.
type FeedState struct {
	Volts float64 `json:"volts"`
	Hz    float64 `json:"hz"`
	Good  bool    `json:"good"`
}

// UPSState is the unit.
type UPSState struct {
	Source   string  `json:"source"`
	LoadW    float64 `json:"load_w"`
	LoadPct  float64 `json:"load_pct"`
	RuntimeS float64 `json:"runtime_s"`
}

// BatteryState is the battery.
type BatteryState struct {
	ChargePct float64 `json:"charge_pct"`
	Volts     float64 `json:"volts"`
	Amps      float64 `json:"amps"`
	TempC     float64 `json:"temp_c"`
	Status    string  `json:"status"`
}

// CardState is the network card.
type CardState struct {
	State   string            `json:"state"`
	Stage   string            `json:"stage,omitempty"` // of its start
	UPSLink bool              `json:"ups_link"`
	Lamps   map[string]string `json:"lamps"`            // by name: how it shines
	Relays  map[string]string `json:"relays,omitempty"` // by name: how its contact is
	Boots   uint32            `json:"boots"`
	Address string            `json:"address,omitempty"`
	Quirks  []string          `json:"quirks,omitempty"`
}

// HostState is one protected machine.
type HostState struct {
	Name    string `json:"name"`
	State   string `json:"state"`
	Powered bool   `json:"powered"`
	Ended   string `json:"ended,omitempty"`
	Starts  int    `json:"starts"`
	Stops   int    `json:"stops"`
	Cuts    int    `json:"cuts"`
}

func lamps(s *snap.Site) map[string]string {
	list := map[string]string{}
	for _, l := range s.Lamps(s.Tick) {
		list[l.Name] = l.Pattern.String()
	}
	return list
}

// StateOf is the state that s shows.
func StateOf(s *snap.Site) State {
	st := State{
		TimeS: s.Tick.Seconds(), UnitState: unitState(s),
		Hosts: []HostState{}, Groups: map[string]bool{}, Loads: map[string]float64{}, Causes: map[string]string{},
	}
	for _, h := range s.Hosts {
		st.Hosts = append(st.Hosts, HostState{h.Name, h.State.String(), h.Powered, h.Ended, h.Starts, h.Stops, h.Cuts})
	}
	for _, g := range s.Groups {
		st.Groups[g.Name], st.Loads[g.Name], st.Causes[g.Name] = g.On, g.LoadW, g.Cause.String()
	}
	for _, u := range s.Units {
		if st.Units == nil {
			st.Units = map[string]UnitState{}
		}
		st.Units[u.Unit] = unitState(u)
	}
	return st
}

func unitState(s *snap.Site) UnitState {
	st := UnitState{
		Source:  FeedState{Volts: s.Feed.Volts, Hz: s.Feed.Hz, Good: s.Feed.Good},
		UPS:     UPSState{Source: s.UPS.Source.String(), LoadW: s.Power.OutputW, LoadPct: s.Power.LoadPct, RuntimeS: s.Battery.RuntimeS},
		Battery: BatteryState{ChargePct: s.ChargePct, Volts: s.Battery.Volts, Amps: s.Battery.Amps, TempC: s.Battery.TempC, Status: s.Battery.Status.String()},
		Card:    CardState{State: s.Card.State.String(), Stage: s.Card.Stage(s.Tick).String(), UPSLink: !s.Card.UnitLost, Lamps: lamps(s), Boots: s.Card.Boots, Quirks: s.Card.Quirks.Names()},
		Policy:  s.Policy.String(),
		Alarms:  []string{}, Locked: s.Outlets.Locked, Notified: s.Sent.ByName(),
	}
	if s.Card.Address.Reachable() {
		st.Card.Address = s.Card.Address.Prefix.String()
	}
	for i := 1; i <= snap.MaxRelays; i++ {
		if r := s.Card.Relay(i); r.Name != "" {
			if st.Card.Relays == nil {
				st.Card.Relays = map[string]string{}
			}
			st.Card.Relays[r.Name] = snap.Either(r.Closed, "closed", "open")
		}
	}
	for i := range s.Alarms.Count {
		st.Alarms = append(st.Alarms, s.Alarms.Rows[i].Kind.String())
	}
	return st
}
