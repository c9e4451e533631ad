package snap

import "strings"

// OutputSource says what feeds the output (RFC 1628 upsOutputSource; the
// numbers are the standard's).
type OutputSource uint8

// Output sources.
const (
	SourceOther   OutputSource = 1
	SourceNone    OutputSource = 2
	SourceNormal  OutputSource = 3
	SourceBypass  OutputSource = 4
	SourceBattery OutputSource = 5
	SourceBooster OutputSource = 6
	SourceReducer OutputSource = 7
)

// String is the standard's word for s.
func (s OutputSource) String() string {
	return nameOf([]string{"", "other", "none", "normal", "bypass", "battery", "booster", "reducer"}, int(s))
}

// BatteryStatus is RFC 1628 upsBatteryStatus; the numbers are the standard's.
type BatteryStatus uint8

// Battery states.
const (
	BatteryUnknown  BatteryStatus = 1
	BatteryNormal   BatteryStatus = 2
	BatteryLow      BatteryStatus = 3
	BatteryDepleted BatteryStatus = 4
)

// String is the standard's word without its prefix.
func (b BatteryStatus) String() string {
	return nameOf([]string{"", "unknown", "normal", "low", "depleted"}, int(b))
}

// TestKind is a well-known test of RFC 1628; the numbers are the last arc of
// its identity under upsWellKnownTests.
type TestKind uint8

// Tests.
const (
	TestNone            TestKind = 1 // no test since the agent started
	TestAbort           TestKind = 2 // the order to abort the running test
	TestGeneralSystems  TestKind = 3
	TestQuickBattery    TestKind = 4
	TestDeepCalibration TestKind = 5
)

// String is a word for k.
func (k TestKind) String() string {
	return nameOf([]string{"", "none", "abort", "general-systems", "quick-battery", "deep-calibration"}, int(k))
}

// TestResult is RFC 1628 upsTestResultsSummary; the numbers are the standard's.
type TestResult uint8

// Test results.
const (
	ResultPass       TestResult = 1
	ResultWarning    TestResult = 2
	ResultError      TestResult = 3
	ResultAborted    TestResult = 4
	ResultInProgress TestResult = 5
	ResultNone       TestResult = 6
)

// String is a word for r.
func (r TestResult) String() string {
	return nameOf([]string{"", "pass", "warning", "error", "aborted", "in-progress", "none"}, int(r))
}

// Audible is RFC 1628 upsConfigAudibleStatus; the numbers are the standard's.
type Audible uint8

// Audible alarm settings.
const (
	AudibleDisabled Audible = 1
	AudibleEnabled  Audible = 2
	AudibleMuted    Audible = 3
)

// Printable is text with a question mark for all but printable ASCII: what others wrote
// makes no lines of its own and steers no terminal.
func Printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, text)
}

// Either is yes if is, else no.
func Either(is bool, yes, no string) string {
	if is {
		return yes
	}
	return no
}

func nameOf(names []string, i int) string {
	if i < 0 || i >= len(names) || names[i] == "" {
		return "unknown"
	}
	return names[i]
}
