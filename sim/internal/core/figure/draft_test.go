package figure

import (
	"os"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/core/voltage"
	"ridethrough/sim/internal/phys/mains"
)

func TestDraft(t *testing.T) {
	save := func(n string, c Chart) {
		for _, f := range []Format{SVG, PNG} {
			w, _ := os.Create("/tmp/h7/" + n + "." + string(f))
			if err := c.Write(w, f); err != nil {
				t.Fatal(err)
			}
			w.Close()
		}
	}
	for _, n := range []string{"agm-12v-7ah", "lfp-12.8v-100ah"} {
		b, _ := blocks.ByName(n)
		save(n, Discharge(&b))
	}
	var list []voltage.Variation
	for _, v := range []voltage.Variation{
		{Start: 1000, End: 1300, Share: 0.6}, {Start: 61000, End: 61015, Share: 0}, {Start: 100000, End: 101000, Share: 1.15}, {Start: 300000, End: 1500000, Share: 0, Open: true},
	} {
		v.Class = mains.Classify(v.Share, v.Seconds(), 50)
		v.Rides = mains.Ride(v.Share, v.Seconds())
		list = append(list, v)
	}
	save("iti", ITI("A test", list, 50))
	b, _ := blocks.ByName("agm-12v-7ah")
	f, _ := os.Open(checks.Path(t, "testdata", "tables", b.Table))
	table, err := fit.Read(f, 6)
	if err != nil {
		t.Fatal(err)
	}
	save("fit", FitChart(b.Name, &b.Cell, fit.Of(table.Rows, fit.ConstantPower, 1.6, 1.8)))
}
