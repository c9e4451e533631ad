package dossier

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Dossier is the report of one run.
type Dossier struct {
	Result  *report.Result
	Digest  string // SHA-256 of the scenario file, in hexadecimal
	Program string // what made it, with its version
	// Study says which run of which study it was, "" for a run by itself; Drawn is what
	// the run drew, by the keys of the scenario.
	Study string
	Drawn []Fact

	Facts    []Fact
	Groups   Table
	Hosts    Table
	Manager  []Fact
	Settings []Fact // of the card that are not those of a new one
	SetAll   []Fact // all

	Cycles     []Cycle
	Budget     *Budget // nil: there is none to hold
	Tests      []Test
	Seen       []Fact // what left the card, and who came
	Deviations []string
	Charts     *figure.Stack
}

// New is the report of the run that the tape followed, of the scenario with that text.
func New(p *plan.Plan, text []byte, program string, t *Tape, r *report.Result) *Dossier {
	sum := sha256.Sum256(text)
	d := &Dossier{
		Result: r, Digest: hex.EncodeToString(sum[:]), Program: program,
		Facts: facts(p), Groups: groups(p), Hosts: hosts(p), Manager: manager(p.Policy),
		Cycles: cycles(r), Tests: tests(r, t.final), Seen: seen(r, t.final),
		Charts: t.Charts(),
	}
	d.Settings = settings(t.final)
	d.SetAll = allSettings(t.final)
	d.Budget = budgeted(p, r, d.Cycles)
	d.Deviations = deviations(d)
	return d
}

// Ordered are the verdicts with those first that need a look: missed, not reached, met.
func (d *Dossier) Ordered() []expect.Verdict {
	list := slices.Clone(d.Result.Verdicts)
	first := []expect.State{expect.Missed, expect.NotReached, expect.Met}
	slices.SortStableFunc(list, func(a, b expect.Verdict) int {
		return slices.Index(first, a.State) - slices.Index(first, b.State)
	})
	return list
}

// seen is what observers counted at the end.
func seen(r *report.Result, last *snap.Site) []Fact {
	posted := last.Posted()
	acked := 0
	for _, n := range last.Acked {
		acked += n
	}
	sent := 0
	for _, n := range r.Sent {
		sent += n
	}
	return []Fact{
		{"Notifications issued", strconv.Itoa(sent)},
		{"Informs acknowledged", strconv.Itoa(acked)},
		{"Mails called for, delivered, late, lost", counts(posted.Mail)},
		{"Syslog messages called for, delivered, late, lost", counts(posted.Syslog)},
		{"Sign-ins accepted, refused", numbers(last.SignIns.Accepted, last.SignIns.Refused)},
		{"Events of the supply by IEEE 1159, not borne on the ITI curve", numbers(last.Supply.Events, last.Supply.NotBorne)},
		{"Highest load", num(last.PeakPct, 1) + " % of the rating"},
		{"Longest gap at the output", span(last.LongestGap)},
	}
}

func numbers(list ...int) string {
	texts := make([]string, len(list))
	for i, n := range list {
		texts[i] = strconv.Itoa(n)
	}
	return strings.Join(texts, ", ")
}

// counts is what became of mails or syslog messages, in the order of their heading.
func counts(c snap.PostCount) string {
	return numbers(c.Made, c.Delivered, c.Late, c.Rejected+c.Expired+c.Dropped+c.Lost)
}

// deviations are what has to be looked at before anybody signs.
func deviations(d *Dossier) []string {
	var list []string
	for _, v := range d.Ordered() {
		if v.State != expect.Met {
			list = append(list, v.Name+": "+v.Because)
		}
	}
	if d.Result.Interrupted {
		list = append(list, "The run was interrupted at "+d.Result.Ended.String()+" and judged there.")
	}
	list = append(list, cuts(d.Cycles)...)
	if len(d.Result.Verdicts) == 0 {
		list = append(list, "The scenario expects nothing: nothing is proven.")
	}
	if n := d.Result.Unkept; n > 0 {
		list = append(list, strconv.Itoa(n)+" later events are in the trace only.")
	}
	return list
}

// cuts says of each host that was cut how often, in the order of the first time: a line
// for each time would hide the others.
func cuts(cycles []Cycle) (list []string) {
	var hosts []string
	times := map[string][]vtime.Tick{}
	for i := range cycles {
		if c := &cycles[i]; c.Cut != vtime.Never {
			if times[c.Host] == nil {
				hosts = append(hosts, c.Host)
			}
			times[c.Host] = append(times[c.Host], c.Cut)
		}
	}
	for _, host := range hosts {
		line := "Host " + host + " lost its power at work, at " + times[host][0].String() + "."
		if n := len(times[host]); n > 1 {
			line = "Host " + host + " lost its power at work " + strconv.Itoa(n) + " times, first at " + times[host][0].String() + ", last at " + times[host][n-1].String() + "."
		}
		list = append(list, line)
	}
	return list
}
