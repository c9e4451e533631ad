package snap

import (
	"encoding/json"
	"reflect"
	"testing"

	"ridethrough/sim/internal/core/vtime"
)

// TestSurroundingsTravel: what a card keeps of its probes comes back as it was over
// the factory's, limits that are none and lists that were emptied included.
func TestSurroundingsTravel(t *testing.T) {
	factory := Surroundings{
		Probes:   []ProbeSetting{{Name: "a", ID: "00000001", Temp: Limits{LowCritical: 1, LowWarn: 2, HighWarn: 3, HighCritical: 4, Hysteresis: 5}, Humid: NoLimits(3), Rise: 6}},
		Contacts: []ContactSetting{{Name: "door", Probe: "a", Input: 2, Supervised: true}},
	}
	for name, kept := range map[string]Surroundings{
		"as it was": factory.clone(),
		"other": {BySocket: true, Probes: []ProbeSetting{
			{Name: "b", Unit: Fahrenheit, Temp: NoLimits(1), Humid: Limits{HighWarn: 60, LowWarn: NoLimit(), LowCritical: NoLimit(), HighCritical: NoLimit()}, Rise: NoLimit(), RiseIn: vtime.Minute},
			{Name: "c", Temp: NoLimits(0), Humid: NoLimits(0), Rise: 2},
		}, Contacts: []ContactSetting{{Name: "leak", Probe: "b", Input: 1, Severity: Critical}}},
		"emptied": {Probes: []ProbeSetting{}, Contacts: []ContactSetting{}},
	} {
		text, err := json.Marshal(&Settings{Surroundings: kept})
		if err != nil {
			t.Fatal(err)
		}
		got := Settings{Surroundings: factory.clone()}
		if err := json.Unmarshal(text, &got); err != nil || !reflect.DeepEqual(got.Surroundings, kept) {
			t.Errorf("%s: %+v, %v", name, got.Surroundings, err)
		}
	}
}

// TestFahrenheit: the fixed points of water, 32 and 212 F, and where both scales
// meet.
func TestFahrenheit(t *testing.T) {
	for c, f := range map[float64]float64{0: 32, 100: 212, -40: -40} {
		if Fahrenheit.Of(c) != f || Celsius.Of(c) != c || TempUnit("").Symbol() != "C" || Fahrenheit.Symbol() != "F" {
			t.Errorf("%v C is %v F", c, Fahrenheit.Of(c))
		}
	}
}
