package plan

import (
	"fmt"
	"math"
	"reflect"
	"strings"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/provenance"
)

// Origin is where one physical figure of a plan comes from.
type Origin struct {
	Field string // of Plan, such as "UPS.Bypass.LowV"; [] stands for each item of a list
	Group string // of what it is a figure
	Keys  string // of a scenario that set it, | between them; * for the number of an item; "" if none does
	Unit  string // "" for a share or a factor
	Times float64
	Kind  provenance.Kind // of what it is without a key
	Why   string          // which source, or how it is worked out
}

// Parameter is one physical figure in force.
type Parameter struct {
	Origin
	Name  string // the key, or the field if it has none, with numbers for items
	Value float64
	items []int
}

// Numbered is one of its keys for the item that it belongs to.
func (p *Parameter) Numbered(key string) string { return numbered(key, p.items) }

// Physics is every physical figure of p, in the order of [Origins]. What a plan
// does not have, such as a generator, has none.
func (p *Plan) Physics() []Parameter {
	q := *p
	q.Battery.Cell = q.Battery.Params()
	var list []Parameter
	for _, o := range Origins() {
		if !q.applies(o.Field) {
			continue
		}
		for _, f := range find(reflect.ValueOf(&q).Elem(), strings.Split(o.Field, "."), nil) {
			if v := number(f.value); !math.IsInf(v, 0) && !q.unused(o.Field, f.items) {
				list = append(list, Parameter{Origin: o, Name: o.name(f.items), Value: v * o.times(), items: f.items})
			}
		}
	}
	return append(list, curveOf(&q.Battery)...)
}

// applies says whether p has what a field is about, beyond what is not there at all.
func (p *Plan) applies(field string) bool {
	u := &p.UPS
	for _, only := range []struct {
		prefixes string
		have     bool
	}{
		{"UPS.Bypass", u.Bypass.Fitted},
		{"UPS.BoostBelowV UPS.ReduceAboveV UPS.Ratio", u.Topology == VI},
		{"UPS.WalkIn UPS.HighEfficiencyLoss", u.Topology == VFI},
		{"Source.Changeover UPS.GeneratorCharge", p.Source.Generator != nil},
		{"Battery.Cell.E0 Battery.Cell.Es", p.Battery.Management == nil},
	} {
		for prefix := range strings.FieldsSeq(only.prefixes) {
			if strings.HasPrefix(field, prefix) && !only.have {
				return false
			}
		}
	}
	return true
}

// unused says whether a field of the items with these numbers is room to spare.
func (p *Plan) unused(field string, items []int) bool {
	return strings.HasPrefix(field, "Battery.Cell.Modes") && items[0] > p.Battery.Cell.N ||
		strings.HasPrefix(field, "Groups[].Inrush") && p.Groups[items[0]-1].Inrush.Times == 0
}

// curveOf is the rested voltage of cells that have a curve of their own.
func curveOf(b *Battery) (list []Parameter) {
	if b.Management == nil {
		return nil
	}
	for _, pct := range []float64{0, 10, 20, 40, 70, 90, 100} {
		o := Origin{Group: "cell", Unit: "V", Kind: provenance.Memory, Why: "within 20 mV"}
		list = append(list, Parameter{Origin: o, Name: fmt.Sprintf("rested voltage at %.0f %%", pct), Value: b.Cell.OpenVolts(pct / 100)})
	}
	return list
}

func (o *Origin) times() float64 {
	if o.Times == 0 {
		return 1
	}
	return o.Times
}

// name is what people call the figure of the items with these numbers.
func (o *Origin) name(items []int) string {
	name, _, _ := strings.Cut(o.Keys, "|")
	if name == "" {
		name = strings.ReplaceAll(o.Field, "[]", ".*")
	}
	return numbered(name, items)
}

func numbered(key string, items []int) string {
	for _, i := range items {
		key = strings.Replace(key, "*", fmt.Sprint(i), 1)
	}
	return key
}

// found is one field with the numbers, from 1, of the items that lead to it.
type found struct {
	value reflect.Value
	items []int
}

func find(v reflect.Value, path []string, items []int) []found {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return nil
		}
		v = v.Elem()
	}
	if len(path) == 0 {
		return []found{{v, items}}
	}
	name, list := strings.CutSuffix(path[0], "[]")
	v = v.FieldByName(name)
	if !list {
		return find(v, path[1:], items)
	}
	var all []found
	for i := range v.Len() {
		all = append(all, find(v.Index(i), path[1:], append(items[:len(items):len(items)], i+1))...)
	}
	return all
}

// number is v in base units; a time is in seconds.
func number(v reflect.Value) float64 {
	if t, ok := v.Interface().(vtime.Tick); ok {
		if t == vtime.Never {
			return math.Inf(1)
		}
		return t.Seconds()
	}
	switch v.Kind() {
	case reflect.Float64:
		return v.Float()
	case reflect.Bool:
		if v.Bool() {
			return 1
		}
		return 0
	case reflect.Uint8:
		return float64(v.Uint())
	}
	return float64(v.Int())
}

// CellOrigin is where the figures of the cell come from, unless a scenario gives
// them: the library.
func (b *Battery) CellOrigin() (kind provenance.Kind, why string) {
	block, ok := blocks.ByName(b.Block)
	switch {
	case b.Cell.C == 0, ok && block.Origin == blocks.Prior:
		return provenance.Fitted, "typical of its capacity: mean of fits to the tables of seven families, within 10 to 20 %"
	case !ok:
		return provenance.Scenario, "battery.params"
	case block.Origin == blocks.Memory:
		return provenance.Memory, block.Note
	}
	return provenance.Fitted, fmt.Sprintf("%d rows of %s, median error %.1f %%, worst %.1f %%", block.Rows, block.Table, block.MedianPct, block.WorstPct)
}
