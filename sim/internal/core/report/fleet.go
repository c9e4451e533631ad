package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/jstemmer/go-junit-report/v2/junit"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// maxNamed is how many of the devices that did not meet an expectation a report
// names.
const maxNamed = 8

// Fleet is what many sites came to, added up. It is not safe for concurrent use.
type Fleet struct {
	Scenario, Title, Variant string
	Seed                     uint64
	Start                    time.Time
	Devices                  int
	Ended                    vtime.Tick // of the longest run
	Interrupted              bool
	Claims                   []Claim
	Starts, Stops, Cuts      int // of all hosts
	Sent, Acked, Unacked     snap.Sent

	parts map[string]int // scenario to its first claim
}

// Claim is how one expectation fared at all devices of a scenario.
type Claim struct {
	Scenario, Name, Form    string
	Met, Missed, NotReached int
	Failed                  []Failure // the first of those that did not meet it, by number
}

// Failure is a device that did not meet an expectation.
type Failure struct {
	Device  int
	State   expect.State
	Because string
}

// NewFleet begins the record of the fleet of p, read from the file scenario with
// variant applied.
func NewFleet(p *plan.Plan, scenario, variant string) *Fleet {
	return &Fleet{
		Scenario: scenario, Title: p.Title, Variant: variant, Seed: p.Seed, Start: p.Start,
		parts: map[string]int{},
	}
}

// Outcome is what a report keeps of one device at the end of its run.
type Outcome struct {
	Ended                vtime.Tick
	Verdicts             []expect.Verdict
	Starts, Stops, Cuts  int
	Sent, Acked, Unacked snap.Sent
}

// OutcomeOf is that of a device at its last site. It keeps nothing of the site.
func OutcomeOf(s *snap.Site, verdicts []expect.Verdict) Outcome {
	o := Outcome{Ended: s.Tick, Verdicts: verdicts, Sent: s.Sent, Acked: s.Acked, Unacked: s.Unacked}
	for i := range s.Hosts {
		h := &s.Hosts[i]
		o.Starts, o.Stops, o.Cuts = o.Starts+h.Starts, o.Stops+h.Stops, o.Cuts+h.Cuts
	}
	return o
}

// Add takes in the device of that number, which played scenario. All devices of
// one scenario have the same expectations. Add them in order of number.
func (f *Fleet) Add(scenario string, device int, o *Outcome) {
	f.Devices++
	f.Ended = max(f.Ended, o.Ended)
	f.Starts, f.Stops, f.Cuts = f.Starts+o.Starts, f.Stops+o.Stops, f.Cuts+o.Cuts
	for k := range f.Sent {
		f.Sent[k], f.Acked[k], f.Unacked[k] = f.Sent[k]+o.Sent[k], f.Acked[k]+o.Acked[k], f.Unacked[k]+o.Unacked[k]
	}
	first, known := f.parts[scenario]
	if !known {
		first = len(f.Claims)
		f.parts[scenario] = first
		for i := range o.Verdicts {
			f.Claims = append(f.Claims, Claim{Scenario: scenario, Name: o.Verdicts[i].Name, Form: o.Verdicts[i].Form})
		}
	}
	for i := range o.Verdicts {
		f.Claims[first+i].add(device, &o.Verdicts[i])
	}
}

func (c *Claim) add(device int, v *expect.Verdict) {
	switch v.State {
	case expect.Met:
		c.Met++
		return
	case expect.Missed:
		c.Missed++
	default:
		c.NotReached++
	}
	if len(c.Failed) < maxNamed {
		c.Failed = append(c.Failed, Failure{device, v.State, v.Because})
	}
}

// Met says whether every device met every expectation.
func (f *Fleet) Met() bool {
	return !slices.ContainsFunc(f.Claims, func(c Claim) bool { return len(c.Failed) > 0 })
}

// Result is the fleet as if it were one site: an expectation is met if every
// device met it.
func (f *Fleet) Result() *Result {
	r := &Result{
		Scenario: f.Scenario, Title: f.Title, Variant: f.Variant, Seed: f.Seed, Start: f.Start,
		Ended: f.Ended, Interrupted: f.Interrupted, Sent: f.Sent,
	}
	for i := range f.Claims {
		c := &f.Claims[i]
		v := expect.Verdict{Name: c.Name, Form: c.Form, State: expect.Met, At: f.Ended, Because: fmt.Sprintf("all %d devices met it", c.Met)}
		if len(c.Failed) > 0 {
			v.State, v.Because = c.Failed[0].State, c.because()
		}
		r.Verdicts = append(r.Verdicts, v)
	}
	return r
}

// because is why a claim was not met by all, in one line.
func (c *Claim) because() string {
	x := &c.Failed[0]
	if more := c.Missed + c.NotReached - 1; more > 0 {
		return fmt.Sprintf("device %d, and %d more: %s", x.Device, more, x.Because)
	}
	return fmt.Sprintf("device %d: %s", x.Device, x.Because)
}

// Closing is the outcome in one line.
func (f *Fleet) Closing() string {
	met := 0
	for i := range f.Claims {
		if len(f.Claims[i].Failed) == 0 {
			met++
		}
	}
	text := fmt.Sprintf("%d devices, %d of %d expectations met by all", f.Devices, met, len(f.Claims))
	if f.Interrupted {
		text += fmt.Sprintf("; interrupted at %v", f.Ended)
	}
	return text
}

// Text writes every expectation with the numbers of devices, what became of the
// hosts, and one closing line.
func (f *Fleet) Text(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%s, seed %d, from %s\n\n", OneLine(f.Title), OneLine(f.origin()), f.Seed, f.Start.Format(time.RFC3339))
	fmt.Fprintf(&b, "hosts of all devices: stopped cleanly %d, cut %d, started %d times\n", f.Stops, f.Cuts, f.Starts)
	if sent := sentText(f.Sent); sent != "" {
		fmt.Fprintf(&b, "notifications sent: %s\n", sent)
	}
	b.WriteString("\n")
	f.claims(&b, true)
	return flush(w, &b, f.Closing())
}

// Brief writes what some device did not meet, and the closing line.
func (f *Fleet) Brief(w io.Writer) error {
	var b strings.Builder
	f.claims(&b, false)
	return flush(w, &b, f.Closing())
}

func (f *Fleet) origin() string {
	if f.Variant == "" {
		return f.Scenario
	}
	return f.Scenario + ", variant " + f.Variant
}

func (f *Fleet) claims(b *strings.Builder, all bool) {
	for i := range f.Claims {
		c := &f.Claims[i]
		if len(c.Failed) == 0 && !all {
			continue
		}
		b.WriteString(OneLine(fmt.Sprintf("%-6s %q of %s: met by %d, missed by %d, not reached by %d", c.word(), c.Name, c.Scenario, c.Met, c.Missed, c.NotReached)) + "\n")
		for _, x := range c.Failed {
			b.WriteString(OneLine(fmt.Sprintf("       device %d: %s: %s", x.Device, x.State, x.Because)) + "\n")
		}
		if more := c.Missed + c.NotReached - len(c.Failed); more > 0 {
			fmt.Fprintf(b, "       and %d more\n", more)
		}
	}
}

func (c *Claim) word() string {
	if len(c.Failed) == 0 {
		return "met"
	}
	return "missed"
}

type jsonFleet struct {
	Version       int            `json:"ridethrough_fleet"`
	Scenario      string         `json:"scenario"`
	Title         string         `json:"title"`
	Variant       string         `json:"variant,omitempty"`
	Seed          uint64         `json:"seed"`
	Start         string         `json:"start"`
	Devices       int            `json:"devices"`
	EndedMS       vtime.Tick     `json:"ended_ms"`
	Interrupted   bool           `json:"interrupted"`
	Met           bool           `json:"met"`
	Expectations  []jsonClaim    `json:"expectations"`
	Starts        int            `json:"host_starts"`
	Stops         int            `json:"host_stops"`
	Cuts          int            `json:"host_cuts"`
	Notifications map[string]int `json:"notifications"`
	Acknowledged  map[string]int `json:"acknowledged"`
	GivenUp       map[string]int `json:"given_up"`
}

type jsonClaim struct {
	Scenario   string        `json:"scenario"`
	Name       string        `json:"name"`
	Claim      string        `json:"claim"`
	Met        int           `json:"met"`
	Missed     int           `json:"missed"`
	NotReached int           `json:"not_reached"`
	Failed     []jsonFailure `json:"failed"`
}

type jsonFailure struct {
	Device  int    `json:"device"`
	Verdict string `json:"verdict"`
	Because string `json:"because"`
}

// JSON writes the fleet as docs/json.md describes it.
func (f *Fleet) JSON(w io.Writer) error {
	return WriteJSON(w, jsonFleet{
		Version: JSONVersion, Scenario: f.Scenario, Title: f.Title, Variant: f.Variant, Seed: f.Seed,
		Start: f.Start.Format(time.RFC3339), Devices: f.Devices, EndedMS: f.Ended, Interrupted: f.Interrupted, Met: f.Met(),
		Expectations: Each(f.Claims, claimJSON),
		Starts:       f.Starts, Stops: f.Stops, Cuts: f.Cuts,
		Notifications: f.Sent.ByName(), Acknowledged: f.Acked.ByName(), GivenUp: f.Unacked.ByName(),
	})
}

func claimJSON(c *Claim) jsonClaim {
	return jsonClaim{c.Scenario, c.Name, c.Form, c.Met, c.Missed, c.NotReached, Each(c.Failed, func(x *Failure) jsonFailure {
		return jsonFailure{x.Device, x.State.String(), x.Because}
	})}
}

// JUnit writes one test case for each expectation of each scenario: a failure if
// any device did not meet it.
func (f *Fleet) JUnit(w io.Writer) error {
	suite := junit.Testsuite{Name: OneLine(f.Title), Time: fmt.Sprintf("%.3f", f.Ended.Seconds())}
	suite.AddProperty("scenario", OneLine(f.origin()))
	suite.AddProperty("devices", fmt.Sprint(f.Devices))
	suite.AddProperty("time", "simulated")
	for i := range f.Claims {
		c := &f.Claims[i]
		test := junit.Testcase{Name: OneLine(c.Name), Classname: OneLine(strings.TrimSuffix(c.Scenario, ".toml"))}
		if len(c.Failed) > 0 {
			test.Failure = &junit.Result{Message: OneLine(c.because()), Type: c.Failed[0].State.String(), Data: OneLine(c.Form)}
		}
		suite.AddTestcase(test)
	}
	suites := junit.Testsuites{Name: "ridethrough"}
	suites.AddSuite(suite)
	return suites.WriteXML(w)
}
