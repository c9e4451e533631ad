package snap

import (
	"slices"
	"strings"
)

// DataQuantity is something that the data log can hold: one column, or one for each line
// or probe.
type DataQuantity uint8

// Quantities, in the order of their columns.
const (
	DataInputV DataQuantity = iota
	DataOutputV
	DataOutputW
	DataLoadPct
	DataChargePct
	DataRuntimeS
	DataBatteryV
	DataBatteryC
	DataProbes
	DataEnergy
	dataQuantities
)

var dataWords = []string{"input_v", "output_v", "output_w", "load_pct", "charge_pct", "runtime_s", "battery_v", "battery_c", "probes", "energy_kwh"}

// DataQuantityWords are the words of all quantities, in the order of their columns.
func DataQuantityWords() []string { return slices.Clone(dataWords) }

// DataSet is a set of quantities, a bit for each.
type DataSet uint16

// EveryQuantity holds them all.
const EveryQuantity DataSet = 1<<dataQuantities - 1

// Has says whether q is in the set.
func (s DataSet) Has(q DataQuantity) bool { return s&(1<<q) != 0 }

// String is the words of the set with commas, "all" for all of them.
func (s DataSet) String() string {
	if s == EveryQuantity {
		return "all"
	}
	var words []string
	for q := range dataQuantities {
		if s.Has(q) {
			words = append(words, dataWords[q])
		}
	}
	return strings.Join(words, ",")
}

// DataSetOf reads words with commas between them, or all. wrong is the first that is no
// quantity; the set is then empty.
func DataSetOf(text string) (s DataSet, wrong string) {
	if strings.TrimSpace(text) == "all" {
		return EveryQuantity, ""
	}
	for word := range strings.SplitSeq(text, ",") {
		q := slices.Index(dataWords, strings.TrimSpace(word))
		if q < 0 {
			return 0, strings.TrimSpace(word)
		}
		s |= 1 << q
	}
	return s, ""
}

// keep takes what is left out of the log out of s.
func (s *Sample) keep(left DataSet) {
	for q := range dataQuantities {
		if left.Has(q) {
			s.forget(q)
		}
	}
}

func (s *Sample) forget(q DataQuantity) {
	switch none := int32(NoReading); q {
	case DataInputV:
		s.InputV = [3]int32{none, none, none}
	case DataOutputV:
		s.OutputV = [3]int32{none, none, none}
	case DataOutputW:
		s.OutputW = none
	case DataLoadPct:
		s.LoadPct = none
	case DataChargePct:
		s.ChargePct = none
	case DataRuntimeS:
		s.RuntimeS = none
	case DataBatteryV:
		s.BatteryV = none
	case DataBatteryC:
		s.BatteryC = none
	case DataProbes:
		for i := range s.ProbeC {
			s.ProbeC[i], s.ProbePct[i] = none, none
		}
	case DataEnergy:
		s.EnergyWh = NoReading
	}
}

// DataColumn is one column of the data log beside number, date and source.
type DataColumn struct {
	Name     string // with its unit
	Decimals int    // the value is in steps of 10^-Decimals of the unit
	Value    func(*Sample) int64

	of DataQuantity
}

// DataColumns are the columns that d's unit and probes have, and that its card is set to
// log.
func DataColumns(d *Device) []DataColumn {
	left := d.Card.Settings.Upkept().DataLeft
	return slices.DeleteFunc(allColumns(d), func(c DataColumn) bool { return left.Has(c.of) })
}

func allColumns(d *Device) []DataColumn {
	list := lineColumns(DataInputV, "input", &d.Input, func(s *Sample) *[3]int32 { return &s.InputV })
	list = append(list, lineColumns(DataOutputV, "output", &d.Output, func(s *Sample) *[3]int32 { return &s.OutputV })...)
	list = append(list,
		column(DataOutputW, 0, func(s *Sample) int32 { return s.OutputW }),
		column(DataLoadPct, 1, func(s *Sample) int32 { return s.LoadPct }),
		column(DataChargePct, 1, func(s *Sample) int32 { return s.ChargePct }),
		column(DataRuntimeS, 0, func(s *Sample) int32 { return s.RuntimeS }),
		column(DataBatteryV, 1, func(s *Sample) int32 { return s.BatteryV }),
		column(DataBatteryC, 1, func(s *Sample) int32 { return s.BatteryC }))
	list = append(list, probeColumns(d)...)
	return append(list, DataColumn{dataWords[DataEnergy], 3, func(s *Sample) int64 { return s.EnergyWh }, DataEnergy})
}

// column has the name of its quantity.
func column(q DataQuantity, decimals int, value func(*Sample) int32) DataColumn {
	return DataColumn{dataWords[q], decimals, func(s *Sample) int64 { return int64(value(s)) }, q}
}

func probeColumns(d *Device) []DataColumn {
	var list []DataColumn
	for i := range d.Probes.Count {
		p := &d.Probes.List[i]
		list = append(list, DataColumn{"probe_" + p.Name + "_c", 1, func(s *Sample) int64 { return int64(s.ProbeC[i]) }, DataProbes})
		if p.HasHumidity {
			list = append(list, DataColumn{"probe_" + p.Name + "_pct", 0, func(s *Sample) int64 { return int64(s.ProbePct[i]) }, DataProbes})
		}
	}
	return list
}

// lineColumns are the voltages of the lines, numbered where there are several.
func lineColumns(q DataQuantity, name string, l *Lines, of func(*Sample) *[3]int32) []DataColumn {
	var list []DataColumn
	for i := range l.Count {
		column := name + "_v"
		if l.Count > 1 {
			column = name + "_l" + string(rune('1'+i)) + "_v"
		}
		list = append(list, DataColumn{column, 1, func(s *Sample) int64 { return int64(of(s)[i]) }, q})
	}
	return list
}
