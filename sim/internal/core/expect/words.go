package expect

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

var (
	endedWords    = []string{"", "clean", "cut"}
	addressWords  = []string{"", "searching", "leased", "fixed", "no-link", "last-lease", "link-local", "duplicate"}
	addressWords6 = []string{"", "off", "searching", "auto", "fixed", "duplicate"}
)

func sourceWords() []string {
	return wordsFrom(snap.SourceOther, snap.SourceReducer, snap.OutputSource.String)
}

func testWords() []string {
	return wordsFrom(snap.TestNone, snap.TestDeepCalibration, snap.TestKind.String)
}

func resultWords() []string {
	return wordsFrom(snap.ResultPass, snap.ResultNone, snap.TestResult.String)
}

func batteryWords() []string {
	return wordsFrom(snap.BatteryUnknown, snap.BatteryDepleted, snap.BatteryStatus.String)
}

func cardWords() []string {
	return wordsFrom(snap.CardOff, snap.CardHung, snap.CardState.String)
}

func bootWords() []string {
	return wordsFrom(snap.StageNone, snap.StageServices, snap.BootStage.String)
}

func hostWords() []string {
	return wordsFrom(snap.HostOff, snap.HostCut, snap.HostState.String)
}

func stageWords() []string {
	return wordsFrom(snap.PolicyWatching, snap.PolicyRestarting, snap.PolicyStage.String)
}

func wordsFrom[T ~uint8](first, last T, name func(T) string) []string {
	var words []string
	for v := first; v <= last; v++ {
		words = append(words, name(v))
	}
	return words
}

// indexOf is the place of w in words; 0, the empty word, if it is not there.
func indexOf(words []string, w string) uint8 {
	for i, have := range words {
		if have == w {
			return uint8(i)
		}
	}
	return 0
}

// wordAt is words[i], or "unknown" for a code that the table does not know.
func wordAt(words []string, i uint8) string {
	if int(i) >= len(words) {
		return "unknown"
	}
	return words[i]
}

func addrText(a netip.Addr) string {
	if !a.IsValid() {
		return ""
	}
	return a.String()
}

func yesNo(name, doc string, f func(*snap.Site) bool) Variable {
	return Variable{Name: name, Kind: YesNo, Doc: doc, yes: f}
}

func number(name, doc string, f func(*snap.Site) float64) Variable {
	return Variable{Name: name, Kind: Number, Doc: doc, num: f}
}

func count(name, doc string, f func(*snap.Site) float64) Variable {
	return Variable{Name: name, Kind: Count, Doc: doc, num: f}
}

func word(name, doc string, words []string, f func(*snap.Site) uint8) Variable {
	return Variable{Name: name, Kind: Word, Words: words, Doc: doc, code: f}
}

func switchWords() []string {
	return wordsFrom(snap.OnUtility, snap.OnGenerator, snap.SwitchPosition.String)
}

func generatorWords() []string {
	return wordsFrom(snap.GeneratorNone, snap.GeneratorTripped, snap.GeneratorState.String)
}

func probeWords() []string {
	return wordsFrom(snap.ProbeNormal, snap.ProbeUnpaired, snap.ProbeState.String)
}

func contactWords() []string {
	return wordsFrom(snap.ContactNormal, snap.ContactLost, snap.ContactState.String)
}
