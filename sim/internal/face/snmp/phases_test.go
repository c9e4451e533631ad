package snmp

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/face/ber"
)

// TestPhases: RFC 1628 upsInputTable, upsOutputTable and upsBypassTable of units with
// one, two and three lines. A lost line keeps its row and reads 0 V at the input,
// what is no line has no row (field row 36).
func TestPhases(t *testing.T) {
	for _, row := range []struct {
		phases, lost        string
		inputs, outputs     string // voltages while that line of the supply is lost
		bypasses, bypassBad string
		source              string
	}{
		{"1/1", "1", "1=0", "1=230", "1=0", "yes", "5"},
		{"2/2", "1", "1=0 2=230", "1=230 2=230", "1=0 2=230", "yes", "5"},
		{"2/2", "2", "1=230 2=0", "1=230 2=230", "1=230 2=0", "yes", "5"},
		{"2/2", "3", "1=230 2=230", "1=230 2=230", "1=230 2=230", "no", "3"},
		{"3/1", "2", "1=230 2=0 3=230", "1=230", "1=230", "no", "5"},
		{"3/3", "3", "1=230 2=230 3=0", "1=230 2=230 3=230", "1=230 2=230 3=0", "yes", "5"},
	} {
		t.Run(row.phases+" without line "+row.lost, func(t *testing.T) {
			l := begin(t, doubled+"phases = \""+row.phases+"\"\n").at(minute)
			in, out, _ := strings.Cut(row.phases, "/")
			l.want("whole", "upsInputNumLines", in, "upsOutputNumLines", out, "upsBypassNumLines", out, "upsInputLineBads", "0",
				"upsOutputSource", "3", "upsInputVoltage."+in, "230", "upsInputVoltage.4", "no such instance")
			l.Inject("source = {line = " + row.lost + ", volts = 0}")
			l.at(2 * minute)
			for column, want := range map[string]string{
				"upsInputVoltage": row.inputs, "upsOutputVoltage": row.outputs, "upsBypassVoltage": row.bypasses,
			} {
				if got := l.column(column); got != want {
					t.Errorf("%s: %s, want %s", column, got, want)
				}
			}
			bads := map[string]string{"5": "1", "3": "0"}[row.source]
			l.want("a line is lost", "upsInputNumLines", in, "upsOutputNumLines", out, "upsBypassNumLines", out,
				"upsInputLineBads", bads, "upsOutputSource", row.source)
			if got := strings.Contains(l.column("upsAlarmDescr"), "1.3.6.1.2.1.33.1.6.3.10"); got != (row.bypassBad == "yes") {
				t.Errorf("the bypass is bad: %v", got)
			}
			for _, column := range []string{"upsInputCurrent", "upsInputTruePower", "upsInputFrequency", "upsOutputCurrent", "upsOutputPower",
				"upsOutputPercentLoad", "upsBypassCurrent", "upsBypassPower"} {
				lines := out
				if strings.HasPrefix(column, "upsInput") {
					lines = in
				}
				if n := strings.Count(l.column(column), "="); n != int(lines[0]-'0') {
					t.Errorf("%s has %d rows of %s", column, n, lines)
				}
			}
			l.Inject(`source = "normal"`)
			l.at(3*minute).want("whole again", "upsOutputSource", "3", "upsInputLineBads", bads)
			l.refuses("a table is written", ber.V2c, NotWritable, 1, "1.3.6.1.2.1.33.1.3.3.1.3.1", num(1))
		})
	}
}
