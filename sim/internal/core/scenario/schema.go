package scenario

import (
	"time"

	"ridethrough/sim/internal/core/vtime"
)

// The schema. Tags of a field:
//
//	key   its name in the file
//	doc   what it means
//	def   the default, as it would be written
//	auto  how the default is worked out, for people; the field is then a pointer
//	min   smallest value (number, duration), or fewest characters or items
//	max   largest value (number, duration), or most characters or items
//	one   the words that a text may be, separated by |
//	word  a word that may stand instead of a duration and means never
//	ascii the text goes to the card, which knows ASCII only
//	need  the key must be there
//	bare  on a table: words that may stand instead of it

// table remembers where a table stands, for messages about it.
type table struct{ node *node }

func (t *table) place(n *node) { t.node = n }

// at is the offset of key's value, or of the table if the key is not there.
func (t *table) at(key string) int {
	if kid := t.node.kids[key]; kid != nil {
		return kid.off
	}
	return t.node.key
}

// has says whether key is there.
func (t *table) has(key string) bool { return t.node.kids[key] != nil }

type file struct {
	table
	Title  string     `key:"title" need:"yes" min:"1" max:"200" doc:"What happens, in one line."`
	Seed   int64      `key:"seed" def:"1" min:"0" doc:"Master seed of everything that is drawn by chance, and of the factory label."`
	Start  time.Time  `key:"start" def:"2026-01-05T08:00:00Z" doc:"Date and time with offset at which the scenario begins."`
	RunFor vtime.Tick `key:"run_for" need:"yes" min:"1s" max:"8760h" doc:"How long the scenario runs."`

	Fleet *fleetTable `key:"fleet" auto:"none: one site" doc:"Many sites instead of one, each with its own UPS, card and hosts. They differ in their numbers, names and dice; see docs/fleet.md."`

	Units []unitTable `key:"unit" max:"3" doc:"A further unit of the site, with a battery and a card of its own: feed B of machines with two supplies. Groups say which unit feeds them. The first unit stands in the tables outside."`

	Source  supplyTable   `key:"source" doc:"The utility supply."`
	UPS     upsTable      `key:"ups" doc:"The unit. The defaults are an invented 3 kVA one."`
	Battery batteryTable  `key:"battery" doc:"The battery: strings in parallel, each of blocks in series."`
	Card    cardTable     `key:"card" doc:"The network card and what a technician set on it."`
	Network networkTable  `key:"network" doc:"The network that the card hangs on: its address server, its router, and what is true of it whatever the card is set to. docs/card.md says how it is worked out who reaches the card."`
	Room    *roomTable    `key:"room" auto:"none: always at battery.ambient_c" doc:"The room around everything, as one lump of heat: the losses of the unit and all that the hosts draw warm it up."`
	Probes  []probeTable  `key:"probe" max:"4" doc:"An environmental probe of the card, in the room."`
	Groups  []groupTable  `key:"group" max:"32" doc:"An outlet group: outlets switched together. Without any there is one, called outlets."`
	Hosts   []hostTable   `key:"host" max:"500" doc:"A protected machine."`
	Servers []serverTable `key:"server" max:"32" doc:"A server of the site that the card sends to, or asks. In a run it is modelled; serve can map mail relays and syslog collectors to real ones."`

	Times []timeServerTable `key:"time_server" max:"8" doc:"A time server (NTP) of the site, which the card may ask."`

	Switches []switchTable `key:"switch" max:"64" doc:"A network switch. It dies with its power, and the paths through it too."`
	Peers    []peerTable   `key:"peer" max:"64" doc:"A machine that has to do with the card: a receiver, a server, a manager. Whether packets pass between it and the card is peers.NAME.reached."`

	LoginServers []loginServerTable `key:"login_server" max:"8" doc:"A server that knows users, as it truly is: run models it, serve asks what its address is mapped to."`

	Policy   *policyTable   `key:"policy" doc:"The modelled shutdown manager: software that polls the card, decides, stops the hosts and tells the UPS to switch off. Without this table nobody decides but the software under test. It needs at least one trigger."`
	Monitor  *monitorTable  `key:"monitor" doc:"The modelled monitoring manager: software that polls the card, hears its notifications and tells people. Without this table nobody watches but the software under test."`
	Entries  []entryTable   `key:"at" max:"1000" doc:"A timeline entry: what happens to the site, either at a time or when a condition becomes true for the first time after the entries before it. Entries with a time stand in order of time."`
	Expects  []expectTable  `key:"expect" max:"200" doc:"An expectation: a claim over the run, with exactly one temporal form."`
	Vary     *varyForm      `key:"vary" auto:"none" doc:"What ridethrough study varies from run to run, each key with a distribution, such as battery.age_years = { uniform = [0, 6] }. docs/study.md has them. Other commands check this table and play the values of the file."`
	Variants []variantTable `key:"variant" max:"100" doc:"A changed version of the scenario, usually one that must miss an expectation: proof that the expectation can fail."`
}

type supplyTable struct {
	table
	NominalV    float64 `key:"nominal_v" def:"230" min:"90" max:"300" doc:"RMS volts of the healthy supply; also what the unit puts out."`
	FrequencyHz float64 `key:"frequency_hz" def:"50" min:"40" max:"70" doc:"Frequency of the healthy supply."`

	Generator  *generatorTable  `key:"generator" auto:"none" doc:"A standby generator. Its figures are common practice, none is of a real machine. A load above its rating lowers its frequency further, until it protects itself: it stops, and stays locked out until a timeline entry says generator = \"working\"."`
	Changeover *changeoverTable `key:"changeover" auto:"with a generator: the defaults" doc:"The switch between utility and generator."`
}
