package checks

import "testing"

func TestDiffer(t *testing.T) {
	for _, c := range []struct {
		want, got string
		same      bool
	}{
		{"M1.00,-2.5L3", "M1.04,-2.51L3", true},
		{"M1.00,-2.5L3", "M1.2,-2.5L3", false},
		{"M1.00,2.5", "M1.00 2.5", false},
		{"M1.00", "M1.00,2", false},
		{"no number", "no number", true},
		{"no number", "some number", false},
		{"0.01", "-0.01", true},
	} {
		if got := Differ(c.want, c.got, 0.05); (got == "") != c.same {
			t.Errorf("%q and %q: %q", c.want, c.got, got)
		}
	}
}
