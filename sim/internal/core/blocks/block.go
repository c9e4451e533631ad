package blocks

import (
	_ "embed"
	"slices"

	"ridethrough/sim/internal/phys/battery"
)

// Technology is what a block is made of.
type Technology string

// Technologies.
const (
	AGM Technology = "agm" // valve-regulated lead-acid
	LFP Technology = "lfp" // lithium iron phosphate with a management system
)

// Origin says where the figures of a block come from.
type Origin string

// Origins.
const (
	Fitted Origin = "fitted" // to every row of Table
	Prior  Origin = "prior"  // the typical block of its capacity: within some 10 or 20 % of a given one
	Memory Origin = "memory" // recalled, not seen
)

// Block is one block of the library.
type Block struct {
	Name       string // technology, volts, size, kind
	Technology Technology
	Cells      int     // in series
	CapacityAh float64 // at the 20-hour rate, to 1.75 V a cell for lead-acid, 25 degrees Celsius
	Cell       battery.Params

	Origin Origin
	Table  string // file name of the table, "" without
	Rows   int    // of the table that were fitted
	// MedianPct, P90Pct and WorstPct are errors of the runtime over those rows, in
	// percent; 0 without a table.
	MedianPct, P90Pct, WorstPct float64
	Note                        string // what else is to be known, one line
}

//go:embed blocks.csv
var text string

// All is the library: by technology, then by size.
func All() []Block {
	list, err := parse(text)
	if err != nil {
		panic("blocks: blocks.csv: " + err.Error()) // a test reads it
	}
	return append(list, lithium()...)
}

// ByName is the block of that name; ok is false if there is none.
func ByName(name string) (b Block, ok bool) {
	all := All()
	i := slices.IndexFunc(all, func(b Block) bool { return b.Name == name })
	if i < 0 {
		return Block{}, false
	}
	return all[i], true
}

// Names are the names of all blocks, in the order of [All].
func Names() []string {
	var names []string
	for _, b := range All() {
		names = append(names, b.Name)
	}
	return names
}
