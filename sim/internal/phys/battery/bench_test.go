package battery_test

import (
	"testing"

	"ridethrough/sim/internal/phys/battery"
)

func BenchmarkStepConstantPower(b *testing.B) {
	p := ref()
	st := p.NewStep(1.0 / 3600)
	full := p.AtCharge(1)
	s := full
	b.ReportAllocs()
	for b.Loop() {
		var ok bool
		if s, _, ok = st.ConstantPower(&p, s, 12); !ok {
			s = full
		}
	}
}

func BenchmarkStepConstantCurrent(b *testing.B) {
	p := ref()
	st := p.NewStep(1.0 / 3600)
	s := p.AtCharge(1)
	b.ReportAllocs()
	for b.Loop() {
		s = st.ConstantCurrent(&p, s, 1e-6)
	}
}

func BenchmarkNewStep(b *testing.B) {
	p := ref()
	b.ReportAllocs()
	var st battery.Step
	for b.Loop() {
		st = p.NewStep(1.0 / 3600)
	}
	if st.Hours() == 0 {
		b.Fatal("no step")
	}
}

func BenchmarkRuntime(b *testing.B) {
	p := ref()
	full := p.AtCharge(1)
	for name, watts := range map[string]float64{"36W": 36, "12W": 12, "0.66W": 0.66} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if p.Runtime(full, watts, 1.75) == 0 {
					b.Fatal("no runtime")
				}
			}
		})
	}
}

// BenchmarkPackRuntime: a weak block beside two sound strings.
func BenchmarkPackRuntime(b *testing.B) {
	pack := packOf(ref(), 36, 2, 6, 0.5, 2)
	full := pack.AtCharge(1)
	b.ReportAllocs()
	for b.Loop() {
		if pack.Runtime(full, 12*108, 1.75) == 0 {
			b.Fatal("no runtime")
		}
	}
}
