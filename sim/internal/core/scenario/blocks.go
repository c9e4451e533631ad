package scenario

// Block is a battery block of the library: 12 V, 6 cells. The blocks are
// invented; they stand for the usual sizes and are modelled from their 20-hour
// capacity alone.
type Block struct {
	Name       string
	CapacityAh float64 // at the 20-hour rate, to 1.75 V a cell, 25 degrees Celsius
}

const cellsPerBlock = 6

// Blocks is the library, by size.
func Blocks() []Block {
	return []Block{
		{"agm-12v-7ah", 7},
		{"agm-12v-9ah", 9},
		{"agm-12v-12ah", 12},
		{"agm-12v-17ah", 17},
		{"agm-12v-40ah", 40},
		{"agm-12v-100ah", 100},
	}
}

func blockNames() []string {
	var names []string
	for _, b := range Blocks() {
		names = append(names, b.Name)
	}
	return names
}

// blockByName is the block of that name; ok is false if there is none.
func blockByName(name string) (b Block, ok bool) {
	for _, b := range Blocks() {
		if b.Name == name {
			return b, true
		}
	}
	return Block{}, false
}
