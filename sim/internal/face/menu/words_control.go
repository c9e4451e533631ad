package menu

import (
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "power", brief: "switch the output of the unit off, on, off and on again, or take that back", part: partShutdown,
			detail: `power off SECONDS switches off after so many seconds, power on SECONDS on, power cycle SECONDS off at
once and on again after so many (300 at most); power keep takes running countdowns back. Nothing is
told to stop: let the software that looks after the hosts do that. upsControl of RFC 1628.`,
			acts: []verb{{"off", powerAction("off", snap.VarShutdownAfter, cautionOff)}, {"on", powerAction("on", snap.VarStartupAfter, cautionOn)},
				{"cycle", powerAction("cycle", snap.VarReboot, cautionOff+strings.TrimPrefix(cautionOn, "CAUTION\n"))}, {"keep", &powerKeep}}},
		word{name: "auto-restart", brief: "whether the output comes back by itself after an outage", part: partShutdown, needs: snap.Administrator,
			detail: "auto-restart on or auto-restart off. It covers a shutdown during an outage, no other: upsAutoRestart of RFC 1628.",
			act:    oneOfWords("auto-restart", "on or off", snap.VarAutoRestart, map[string]int64{"on": 1, "off": 2}, func(v View, _ string) string { return withLoad(v, cautionRestart) })},
		word{name: "start-test", brief: "begin a test of the unit", part: partUpkeep,
			detail: `start-test quick loads the battery for seconds, start-test calibration discharges it to learn how long it
lasts, start-test systems checks the rest. test shows how it went. Below 90 % charge the battery is
not tested: the result would say little and the load would be at risk.`,
			act: &startTest},
		word{name: "abort-test", brief: "end the running test", part: partUpkeep,
			detail: "The unit goes back to the mains at once.",
			act: &action{
				command: func(v View, _ []string) snap.Command { return testCommand(v, snap.TestAbort) },
				done:    func(View, []string) string { return "The test was told to end: test shows it.\n" },
			}},
		word{name: "low-battery", brief: "how many minutes of runtime count as a low battery", part: partShutdown, needs: snap.Administrator,
			detail: "low-battery MINUTES. The unit takes the next longer time that it has: upsConfigLowBattTime of RFC 1628.",
			act:    &lowBattery},
		word{name: "audible", brief: "the unit's audible alarm: on, off, or muted until the next", part: partUpkeep,
			detail: "audible on, audible off or audible mute. Muting ends with the alarms that sound now.",
			act: oneOfWords("audible", "on, off or mute", snap.VarAudible, map[string]int64{"on": int64(snap.AudibleEnabled), "off": int64(snap.AudibleDisabled), "mute": int64(snap.AudibleMuted)},
				func(_ View, to string) string {
					if to == "off" {
						return cautionSilent + decides
					}
					return ""
				})},
		word{name: "health-reset", brief: "tell the unit that its battery is new", part: partUpkeep, needs: snap.Administrator,
			detail: "After all packs were replaced: the unit forgets what tests and calibrations found of the old ones.\nEnter the date too: set upkeep.battery.replaced 2026-03-02. Calibrate once the new ones are full.",
			act: &action{
				caution: func(v View, _ []string) string { return withLoad(v, cautionBattery) }, confirm: "new battery",
				command: func(View, []string) snap.Command { return snap.Command{Op: snap.OpHealthReset} },
				done: func(View, []string) string {
					return "The unit takes its battery for a new one. Enter the date: set upkeep.battery.replaced.\n"
				},
			}},
	)
}

func setOne(name snap.Var, value int64) snap.Command {
	return snap.Command{Op: snap.OpSet, Sets: []snap.Assignment{{Var: name, Int: value}}}
}

// powerAction is one that switches the output after some seconds.
func powerAction(verb string, name snap.Var, caution string) *action {
	most := 24 * 3600
	if name == snap.VarReboot {
		most = 300 // RFC 1628 upsRebootWithDuration
	}
	return &action{
		ask:     []question{{label: "seconds", help: "After how many seconds; 0 is at once.", check: wholeAnswer("seconds", 0, most)}},
		caution: func(v View, _ []string) string { return withLoad(v, caution) },
		confirm: verb,
		command: func(_ View, given []string) snap.Command { return setOne(name, number(given[0])) },
		done: func(v View, _ []string) string {
			if text := countdowns(v); text != "" {
				return "Done.\n" + text
			}
			return "Done. status shows the output.\n"
		},
	}
}

var powerKeep = action{
	command: func(v View, _ []string) snap.Command {
		c := snap.Command{Op: snap.OpSet}
		for _, name := range []snap.Var{snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot} {
			c.Sets = append(c.Sets, snap.Assignment{Var: name, Int: -1})
		}
		return c
	},
	done: func(View, []string) string { return "No countdown runs any more.\n" },
}

func number(text string) int64 {
	n, _ := strconv.ParseInt(text, 10, 64) // was checked
	return n
}

// wholeAnswer accepts a whole number.
func wholeAnswer(what string, least, most int) func(View, []string, string) (string, error) {
	return func(_ View, _ []string, answer string) (string, error) {
		n, err := strconv.Atoi(answer)
		if err != nil || n < least || n > most {
			return "", fmt.Errorf("%q: expected a whole number of %s from %d to %d", answer, what, least, most)
		}
		return strconv.Itoa(n), nil
	}
}

// oneOfWords is an action that sets a variable to what a word stands for.
func oneOfWords(name, label string, to snap.Var, values map[string]int64, caution func(View, string) string) *action {
	return &action{
		ask: []question{{label: label, help: "Type " + label + ".", check: func(_ View, _ []string, answer string) (string, error) {
			answer = strings.ToLower(answer)
			if _, ok := values[answer]; !ok {
				return "", fmt.Errorf("%q: expected %s", answer, label)
			}
			return answer, nil
		}}},
		caution: func(v View, given []string) string { return caution(v, given[0]) },
		confirm: "yes",
		command: func(_ View, given []string) snap.Command { return setOne(to, values[given[0]]) },
		done: func(_ View, given []string) string {
			return fmt.Sprintf("%s is %s. config shows it.\n", name, given[0])
		},
	}
}

var lowBattery = action{
	ask:     []question{{label: "minutes", help: "Runtime in minutes at or below which the battery counts as low.", check: wholeAnswer("minutes", 1, 60)}},
	caution: func(v View, _ []string) string { return withLoad(v, cautionLow) },
	confirm: "yes",
	command: func(_ View, given []string) snap.Command { return setOne(snap.VarLowBattTime, number(given[0])) },
	done: func(v View, _ []string) string {
		return fmt.Sprintf("Low battery is reported at %d min of runtime.\n", v.Dev.Config.LowBatteryMinutes)
	},
}

// testKinds are the tests by the words that are typed.
var testKinds = map[string]snap.TestKind{"quick": snap.TestQuickBattery, "calibration": snap.TestDeepCalibration, "systems": snap.TestGeneralSystems}

// testNeedsPct is the least charge for a test of the battery: common practice, and
// the unit's own rule.
const testNeedsPct = 90

var startTest = action{
	ask: []question{{
		label: "quick, calibration or systems", help: "quick: seconds on battery. calibration: a discharge. systems: without the battery.",
		check: func(_ View, _ []string, answer string) (string, error) {
			answer = strings.ToLower(answer)
			if _, ok := testKinds[answer]; !ok {
				return "", fmt.Errorf("%q is no test: quick, calibration or systems", answer)
			}
			return answer, nil
		},
	}},
	caution: func(v View, given []string) string {
		text := cautionTest
		if given[0] == "calibration" {
			text = cautionCalibration
		}
		if given[0] != "systems" && v.Dev.Battery.ChargePct < testNeedsPct {
			text += fmt.Sprintf("The charge is %s: below %d %% the unit refuses to test its battery.\n", value(v, "upsEstimatedChargeRemaining"), testNeedsPct)
		}
		return withLoad(v, text)
	},
	confirm: "test",
	command: func(v View, given []string) snap.Command { return testCommand(v, testKinds[given[0]]) },
	done:    func(View, []string) string { return "The test runs: test shows how it goes.\n" },
}

// testCommand orders a test, with the spin lock beside it (RFC 1628 upsTestId).
func testCommand(v View, kind snap.TestKind) snap.Command {
	return snap.Command{Op: snap.OpSet, Sets: []snap.Assignment{
		{Var: snap.VarTestSpinLock, Int: int64(v.Dev.Test.SpinLock)}, {Var: snap.VarTestID, Int: int64(kind)},
	}}
}
