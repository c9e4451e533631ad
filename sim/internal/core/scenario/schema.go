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

	Source   supplyTable    `key:"source" doc:"The utility supply."`
	UPS      upsTable       `key:"ups" doc:"The unit. The defaults are an invented 3 kVA line-interactive one."`
	Battery  batteryTable   `key:"battery" doc:"The battery: strings in parallel, each of blocks in series, each of 6 lead-acid cells."`
	Card     cardTable      `key:"card" doc:"The network card and what a technician set on it."`
	Network  networkTable   `key:"network" doc:"The site's address server, for a card in address mode dhcp."`
	Groups   []groupTable   `key:"group" max:"32" doc:"An outlet group: outlets switched together. Without any there is one, called outlets."`
	Hosts    []hostTable    `key:"host" max:"500" doc:"A protected machine."`
	Policy   *policyTable   `key:"policy" doc:"The modelled shutdown manager: software that polls the card, decides, stops the hosts and tells the UPS to switch off. Without this table nobody decides but the software under test. It needs at least one trigger."`
	Entries  []entryTable   `key:"at" max:"1000" doc:"A timeline entry: what happens to the site, either at a time or when a condition becomes true for the first time after the entries before it. Entries with a time stand in order of time."`
	Expects  []expectTable  `key:"expect" max:"200" doc:"An expectation: a claim over the run, with exactly one temporal form."`
	Variants []variantTable `key:"variant" max:"100" doc:"A changed version of the scenario, usually one that must miss an expectation: proof that the expectation can fail."`
}

type supplyTable struct {
	table
	NominalV    float64 `key:"nominal_v" def:"230" min:"90" max:"300" doc:"RMS volts of the healthy supply; also what the unit puts out."`
	FrequencyHz float64 `key:"frequency_hz" def:"50" min:"40" max:"70" doc:"Frequency of the healthy supply."`
}

type upsTable struct {
	table
	Topology     string  `key:"topology" def:"VI" one:"VI|VFI|VFD" doc:"Class of IEC 62040-3. Only VI, line-interactive, is simulated so far."`
	Manufacturer string  `key:"manufacturer" def:"Invented Power" max:"31" ascii:"yes" doc:"Manufacturer that the card reports."`
	Model        string  `key:"model" def:"Line-interactive 3000 SIMULATION" max:"63" ascii:"yes" doc:"Model that the card reports."`
	Firmware     string  `key:"firmware" def:"1.0" max:"63" ascii:"yes" doc:"Firmware of the unit that the card reports."`
	RatingVA     float64 `key:"rating_va" def:"3000" min:"100" max:"1000000" doc:"Rated apparent power of the output."`
	RatingW      float64 `key:"rating_w" def:"2700" min:"50" max:"1000000" doc:"Rated true power of the output, at most rating_va."`

	LowTransferV  *float64 `key:"low_transfer_v" auto:"77 % of nominal_v, whole volts" min:"1" max:"500" doc:"Below this input the battery feeds the output."`
	HighTransferV *float64 `key:"high_transfer_v" auto:"122 % of nominal_v, whole volts" min:"1" max:"500" doc:"Above this input the battery feeds the output."`
	BoostBelowV   *float64 `key:"boost_below_v" auto:"90 % of nominal_v, whole volts" min:"1" max:"500" doc:"Below this input the autotransformer steps up."`
	ReduceAboveV  *float64 `key:"reduce_above_v" auto:"110 % of nominal_v, whole volts" min:"1" max:"500" doc:"Above this input the autotransformer steps down."`
	Ratio         float64  `key:"ratio" def:"1.15" min:"1" max:"1.5" doc:"Ratio of the autotransformer."`
	HysteresisV   *float64 `key:"hysteresis_v" auto:"2 % of nominal_v, whole volts" min:"0" max:"50" doc:"How far back inside a limit the input must come before the unit returns."`
	LowHz         *float64 `key:"low_hz" auto:"94 % of frequency_hz" min:"30" max:"80" doc:"Below this frequency the battery feeds the output."`
	HighHz        *float64 `key:"high_hz" auto:"106 % of frequency_hz" min:"30" max:"80" doc:"Above this frequency the battery feeds the output."`

	Transfer    vtime.Tick       `key:"transfer" def:"6ms" min:"0ms" max:"1s" doc:"Gap in the output when it changes between mains and battery."`
	Qualify     vtime.Tick       `key:"qualify" def:"5s" min:"0s" max:"1h" doc:"How long the input must be good before it is taken back."`
	MainsLoss   mainsLossTable   `key:"mains_loss" doc:"Losses on mains as shares of rating_w: no_load + linear x + quadratic x^2, with x = output / rating_w. The defaults are invented and give 98 % at full load."`
	BatteryLoss batteryLossTable `key:"battery_loss" doc:"Losses on battery, likewise. The defaults give 94 % at full load."`

	LowBatteryMinutes int64  `key:"low_battery_minutes" def:"5" min:"1" max:"1440" doc:"Estimated runtime at which the battery counts as low."`
	ShutdownType      string `key:"shutdown_type" def:"output" one:"output|system" doc:"What an ordered shutdown switches off."`
	AutoRestart       bool   `key:"auto_restart" def:"true" doc:"Switch the output on when the mains return after a shutdown that happened while they were out."`
	Audible           string `key:"audible" def:"enabled" one:"disabled|enabled|muted" doc:"The audible alarm."`
}

type mainsLossTable struct {
	table
	NoLoad    float64 `key:"no_load" def:"0.010" min:"0" max:"0.5" doc:"Constant part."`
	Linear    float64 `key:"linear" def:"0.003" min:"0" max:"0.5" doc:"Part that grows with the load."`
	Quadratic float64 `key:"quadratic" def:"0.007" min:"0" max:"0.5" doc:"Part that grows with its square."`
}

type batteryLossTable struct {
	table
	NoLoad    float64 `key:"no_load" def:"0.020" min:"0" max:"0.5" doc:"Constant part."`
	Linear    float64 `key:"linear" def:"0.020" min:"0" max:"0.5" doc:"Part that grows with the load."`
	Quadratic float64 `key:"quadratic" def:"0.025" min:"0" max:"0.5" doc:"Part that grows with its square."`
}

type batteryTable struct {
	table
	Block      string     `key:"block" auto:"agm-12v-9ah, unless capacity_ah or params is given" max:"40" doc:"A block of the library below."`
	CapacityAh *float64   `key:"capacity_ah" auto:"that of the block" min:"0.5" max:"5000" doc:"20-hour capacity of one string, instead of block: a typical cell of that size."`
	Params     *cellTable `key:"params" doc:"The figures of one cell, instead of block; ridethrough fit writes them for a discharge table."`
	Series     int64      `key:"series" def:"6" min:"1" max:"60" doc:"Blocks in series in one string."`
	Strings    int64      `key:"strings" def:"1" min:"1" max:"20" doc:"Strings in parallel."`
	ChargePct  float64    `key:"charge_pct" def:"100" min:"0" max:"100" doc:"Charge at the start."`
	CutoffV    float64    `key:"cutoff_v_per_cell" def:"1.70" min:"1.5" max:"2" doc:"The unit ends a discharge at this voltage of a cell."`
	FloatV     *float64   `key:"float_v_per_cell" auto:"13.6 V a block, 2.267 V a cell" min:"2.15" max:"2.45" doc:"The charger's voltage of a cell."`
	ChargeA    *float64   `key:"charge_a" auto:"0.2 A for each Ah" min:"0.01" max:"1000" doc:"The charger's limit, all strings together."`
	AmbientC   float64    `key:"ambient_c" def:"25" min:"-20" max:"60" doc:"Temperature around the battery."`
}
