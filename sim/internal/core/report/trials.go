package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/jstemmer/go-junit-report/v2/junit"
)

// Trial is one version of a scenario that was played: the scenario as it
// stands, which has to meet everything, or a variant, which has to miss exactly
// what it names.
type Trial struct {
	Variant string   // "" for the scenario as it stands
	Misses  []string // what it has to miss
	Result  *Result
}

// Trials are all versions of one scenario, the one as it stands first.
type Trials []Trial

// Right says whether every version came out as it should.
func (ts Trials) Right() bool {
	return !slices.ContainsFunc(ts, func(t Trial) bool { return t.Wrong() != "" })
}

// Interrupted says whether a version was stopped before its end.
func (ts Trials) Interrupted() bool {
	return slices.ContainsFunc(ts, func(t Trial) bool { return t.Result.Interrupted })
}

// Wrong is how the version came out other than it should, "" if it did not.
func (t *Trial) Wrong() string {
	missed := t.Result.Failed()
	var parts []string
	if met := without(t.Misses, missed); len(met) > 0 {
		parts = append(parts, "it had to miss "+quoted(met))
	}
	if extra := without(missed, t.Misses); len(extra) > 0 {
		parts = append(parts, "it had to meet "+quoted(extra))
	}
	return strings.Join(parts, "; ")
}

// without is what is in a and not in b.
func without(a, b []string) []string {
	return slices.DeleteFunc(slices.Clone(a), func(s string) bool { return slices.Contains(b, s) })
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = strconv.Quote(n)
	}
	return strings.Join(out, ", ")
}

// Text writes one line a version, or with brief one a version that came out
// wrong, and one closing line.
func (ts Trials) Text(w io.Writer, brief bool) error {
	var b strings.Builder
	if !brief && len(ts) > 0 {
		fmt.Fprintf(&b, "%s\n%s\n\n", OneLine(ts[0].Result.Title), OneLine(ts[0].Result.origin()))
	}
	right := 0
	for i := range ts {
		wrong := ts[i].Wrong()
		if wrong == "" {
			right++
		}
		if wrong != "" || !brief {
			b.WriteString(OneLine(ts[i].line(wrong)) + "\n")
		}
	}
	return flush(w, &b, fmt.Sprintf("%d of %d versions came out as they should", right, len(ts)))
}

func (t *Trial) line(wrong string) string {
	missed := t.Result.Failed()
	switch {
	case wrong != "":
		return "wrong  " + t.label() + ": " + wrong
	case len(missed) > 0:
		return "right  " + t.label() + ": missed " + quoted(missed)
	}
	return "right  " + t.label() + ": met everything"
}

func (t *Trial) label() string {
	if t.Variant == "" {
		return "as it stands"
	}
	return "variant " + t.Variant
}

type jsonTrials struct {
	Version  int         `json:"ridethrough_versions"`
	Right    bool        `json:"right"`
	Versions []jsonTrial `json:"versions"`
}

type jsonTrial struct {
	Variant string     `json:"variant"`
	Right   bool       `json:"right"`
	Wrong   string     `json:"wrong,omitempty"`
	Result  jsonResult `json:"result"`
}

// JSON writes the versions as docs/json.md describes it.
func (ts Trials) JSON(w io.Writer) error {
	return WriteJSON(w, jsonTrials{JSONVersion, ts.Right(), Each(ts, func(t *Trial) jsonTrial {
		wrong := t.Wrong()
		return jsonTrial{t.Variant, wrong == "", wrong, t.Result.json()}
	})})
}

// JUnit writes one test case a version: a variant that misses what it names is
// a success.
func (ts Trials) JUnit(w io.Writer) error {
	suite := junit.Testsuite{Name: "versions of a scenario", Time: "0.000"}
	for i := range ts {
		t := &ts[i]
		suite.Name = OneLine(t.Result.Title)
		suite.AddTestcase(t.testcase())
	}
	suites := junit.Testsuites{Name: "ridethrough"}
	suites.AddSuite(suite)
	return suites.WriteXML(w)
}

func (t *Trial) testcase() junit.Testcase {
	c := junit.Testcase{Name: OneLine(t.label()), Classname: OneLine(strings.TrimSuffix(t.Result.Scenario, ".toml"))}
	if wrong := t.Wrong(); wrong != "" {
		c.Failure = &junit.Result{Message: OneLine(wrong), Type: "wrong", Data: OneLine(t.Result.Closing())}
	}
	return c
}
