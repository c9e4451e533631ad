package cli

import (
	"strings"
	"testing"
)

func TestFitAskRefuses(t *testing.T) {
	for ask, want := range map[string]string{
		"":            "expected CC or CP first",
		"W,1.70,12":   "expected CC or CP first",
		"CP":          "expected an end voltage of 1 to 2.5 V a cell",
		"CP,10.5,12":  "expected an end voltage of 1 to 2.5 V a cell",
		"CP,NaN,12":   "expected an end voltage of 1 to 2.5 V a cell",
		"CP,1.70":     "expected a load above 0",
		"CP,1.70,0":   "expected a load above 0",
		"CC,1.70,Inf": "expected a load above 0",
		"CC,1.70,5,6": "expected a load above 0",
	} {
		code, out, stderr := command(t.Context(), "fit", aTable, "--ask", ask)
		if code != exitUsage || out != "" || !strings.HasPrefix(stderr, "ridethrough: --ask "+ask+": "+want) {
			t.Errorf("%q: code %d, %s", ask, code, stderr)
		}
	}
}

func TestFitAsk(t *testing.T) {
	code, out, stderr := command(t.Context(), "fit", aTable, "--ask", "CP,1.70,180", "--ask", "CC,1.75,100")
	if code != 0 || !strings.Contains(out, "180 W a cell to 1.7 V") || !strings.Contains(out, "100 A to 1.75 V") {
		t.Errorf("code %d, %s%s", code, out, stderr)
	}
}
