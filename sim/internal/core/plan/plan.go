package plan

import (
	"time"

	"ridethrough/sim/internal/core/vtime"
)

// Plan is one checked scenario.
type Plan struct {
	Title  string
	Seed   uint64
	Start  time.Time // calendar date of tick 0
	RunFor vtime.Tick

	Source  Source
	UPS     UPS
	Battery Battery
	Card    Card
	Network Network
	Groups  []Group
	Hosts   []Host
	Room    *Room // nil: always at Battery.AmbientC
	Probes  []Probe
	Servers []Server
	Policy  *Policy  // nil: nobody decides but the software under test
	Monitor *Monitor // nil: nobody watches but the software under test
	Entries []Entry
	Expects []Expect
	Fleet   *Fleet // nil: this is one site

	TimeServers []TimeServer
	Releases    []Release // of the card's firmware

	Switches []Switch
	Peers    []Peer

	LoginServers []LoginServer

	// Units are the further units of the site, each with its own supply, battery and
	// card. Groups and hosts are the same in the plans of all; a group says whose it is.
	Units    []*Plan
	Unit     int    // which of the site's units this is, from 0
	UnitName string // of a further one
	// SharedSource: its supply is the one that the first unit has.
	SharedSource bool
}
