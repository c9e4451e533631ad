package report

import (
	"io"
	"strconv"
	"strings"

	"github.com/jstemmer/go-junit-report/v2/junit"

	"ridethrough/sim/internal/core/expect"
)

// JUnit writes one test suite with one test case for each expectation. Not
// reached is a failure: what could not be shown was not shown.
func (r *Result) JUnit(w io.Writer) error {
	suites := junit.Testsuites{Name: "ridethrough"}
	suites.AddSuite(r.suite())
	return suites.WriteXML(w)
}

// suite carries simulated seconds in its time attribute, as the properties say.
func (r *Result) suite() junit.Testsuite {
	suite := junit.Testsuite{Name: OneLine(r.name()), Time: strconv.FormatFloat(r.Ended.Seconds(), 'f', 3, 64)}
	suite.AddProperty("scenario", OneLine(r.origin()))
	suite.AddProperty("time", "simulated")
	suite.AddProperty("interrupted", strconv.FormatBool(r.Interrupted))
	for i := range r.Verdicts {
		suite.AddTestcase(r.testcase(&r.Verdicts[i]))
	}
	suite.SystemOut = &junit.Output{Data: r.systemOut()}
	return suite
}

func (r *Result) name() string {
	if r.Variant == "" {
		return r.Title
	}
	return r.Title + " (variant " + r.Variant + ")"
}

func (r *Result) testcase(v *expect.Verdict) junit.Testcase {
	c := junit.Testcase{Name: OneLine(v.Name), Classname: OneLine(r.class())}
	if v.State != expect.Met {
		c.Failure = &junit.Result{Message: OneLine(v.Because), Type: v.State.String(), Data: OneLine(v.Form)}
	}
	return c
}

// class groups the test cases of one file and variant in a CI's overview.
func (r *Result) class() string {
	name := strings.TrimSuffix(r.Scenario, ".toml")
	if r.Variant != "" {
		name += "." + r.Variant
	}
	return name
}

func (r *Result) systemOut() string {
	var b strings.Builder
	r.timeline(&b)
	r.hosts(&b)
	return b.String()
}
