package battery

import (
	"fmt"

	"ridethrough/sim/internal/phys/provenance"
)

// Figures are those of the laws of this package that a scenario does not change:
// of temperature, ageing, and charge.
func Figures(lithium bool) []provenance.Figure {
	list := temperatureFigures(lithium)
	list = append(list,
		provenance.Figure{Group: "temperature", Name: "resistance, more for each kelvin below 25 C", Value: 100 * (ResistanceFactor(ReferenceC-1) - 1), Unit: "%", Kind: provenance.Practice, Source: "1 % a kelvin; held at 50 % above 75 C"},
		provenance.Figure{Group: "ageing", Name: "capacity at the end of life", Value: 100 * AgedCapacity(1), Unit: "%", Kind: provenance.Memory, Source: "IEEE 1188"},
		provenance.Figure{Group: "ageing", Name: "resistance at the end of life", Value: 100 * AgedResistance(1), Unit: "%", Kind: provenance.Ours, Source: "sources give 130 to 200 %"},
	)
	if lithium {
		return append(list, provenance.Figure{Group: "charger", Name: "resistance of a cell to its charge, times its capacity", Value: LithiumResists, Unit: "V h", Kind: provenance.Memory, Source: "takes nearly the full current to its end"})
	}
	return append(list,
		provenance.Figure{Group: "charger", Name: "resistance of a cell to its charge, times its capacity", Value: leadResists, Unit: "V h", Kind: provenance.Published, Source: "by eye to a data sheet's chart of a charge at 0.1 C to 2.25 V a cell"},
		provenance.Figure{Group: "charger", Name: "exponent of that in the charge that is missing", Value: acceptancePow, Kind: provenance.Memory, Source: "Copetti, Lorenzo and Chenlo 1993"},
		provenance.Figure{Group: "charger", Name: "charge that is missing at least, for that", Value: acceptanceEdge, Kind: provenance.Published, Source: "the same chart"},
	)
}

func temperatureFigures(lithium bool) (list []provenance.Figure) {
	at, factor := []float64{-15, 0, 25, 40}, CapacityFactor
	kind, source := provenance.Published, "10-hour figures of data sheets of valve-regulated blocks; constant beyond"
	if lithium {
		at, factor = []float64{-20, 0, 25, 45}, LithiumCapacityFactor
		kind, source = provenance.Memory, "within some points; constant beyond"
	}
	for _, c := range at {
		list = append(list, provenance.Figure{
			Group: "temperature", Name: fmt.Sprintf("capacity at %.0f C", c), Value: 100 * factor(c), Unit: "%", Kind: kind, Source: source,
		})
	}
	return list
}
