package study

import (
	"strings"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/report"
)

// Run is what one run of a study came to, in each of its versions.
type Run struct {
	Number   int       `json:"run"` // from 1
	Versions []Outcome `json:"versions"`
}

// Outcome is what a run came to in one version.
type Outcome struct {
	// Draws are those of the quantities: numbers in the unit of the key, seconds, or
	// indices of words. 0 for what the version fixes.
	Draws []float64 `json:"draws"`
	// Claims has a letter for each expectation: m for met, x for missed, n for not
	// reached.
	Claims string `json:"claims"`
	// Hosts has a letter for each host: c for one that was cut, a for one that was not
	// and is away at the end, w for one at work.
	Hosts string `json:"hosts"`
	// Margin is nil if nothing ran on battery.
	Margin *Margin  `json:"margin,omitempty"`
	Why    []Reason `json:"why,omitempty"`
}

// Margin is what was left when the last host had stopped, or the mains came back;
// the least of several outages.
type Margin struct {
	// Seconds that the battery would have carried the load on. Below 0, with a host
	// cut: what the slowest of those that were cut still needed to stop, at least.
	Seconds float64 `json:"s"`
	// ChargePct of the battery; 0 with a host cut.
	ChargePct float64 `json:"pct"`
}

// Reason is why an expectation was not met or a host was cut, without numbers.
type Reason struct {
	Claim int    `json:"claim,omitempty"` // from 1; 0: it is about a host
	Host  int    `json:"host,omitempty"`  // from 1; 0: it is about an expectation
	Text  string `json:"text"`
}

const (
	metLetter, missedLetter, unreachedLetter = 'm', 'x', 'n'
	workLetter, cutLetter, awayLetter        = 'w', 'c', 'a'
)

// Met says whether every expectation was met.
func (o *Outcome) Met() bool { return strings.Trim(o.Claims, string(metLetter)) == "" }

func letterOf(s expect.State) byte {
	switch s {
	case expect.Met:
		return metLetter
	case expect.Missed:
		return missedLetter
	}
	return unreachedLetter
}

// plain is a reason without its numbers and times, so that the same thing at
// another moment is the same reason.
func plain(text string) string {
	text = report.OneLine(text)
	var b strings.Builder
	inNumber := false
	for i := 0; i < len(text); i++ {
		c := text[i]
		digit := c >= '0' && c <= '9'
		if digit && !inNumber && i > 0 && isLetter(text[i-1]) { // part of a name
			for ; i < len(text) && (isLetter(text[i]) || text[i] >= '0' && text[i] <= '9'); i++ {
				b.WriteByte(text[i])
			}
			i--
			continue
		}
		joins := inNumber && (c == '.' || c == ':') && i+1 < len(text) && text[i+1] >= '0' && text[i+1] <= '9'
		switch {
		case digit && !inNumber:
			b.WriteByte('#')
			inNumber = true
		case digit || joins:
		default:
			inNumber = false
			b.WriteByte(c)
		}
	}
	return b.String()
}

func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' }
