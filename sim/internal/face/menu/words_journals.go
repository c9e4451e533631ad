package menu

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/model"
)

func init() {
	register(
		word{name: "journal", brief: "what the card noted, newest last", part: partReading,
			detail: `journal shows the last 20 entries, journal 50 the last 50, journal all everything kept. journal events
are supply, unit and surroundings, journal system the card and its users. --csv gives all of it for
a spreadsheet: ssh CARD journal events --csv > FILE. The dates are those of the card's clock, the
numbers tell the order. What is lost because a journal was full is said at the top.`,
			check: func(_ View, args []string) error { _, err := pickOf("journal", journalKinds, args, true); return err },
			read:  journal, data: journalData},
		word{name: "data-log", brief: "readings that the card logged, newest last", part: partReading,
			detail: `data-log shows the last 20 entries, data-log 50 the last 50, data-log all everything kept; --csv gives
all of it for a spreadsheet. upkeep.data.every sets how often the card logs.`,
			check: func(_ View, args []string) error { _, err := pickOf("data-log", nil, args, true); return err },
			read:  dataLog, data: dataLogData},
	)
}

// journalLines is how many entries are shown unless told otherwise.
const journalLines = 20

// pick is what somebody wants of a journal or of the data log.
type pick struct {
	kind  string // of the journal; "": both
	limit int    // the newest of them; 0: all
	csv   bool
}

// pickOf reads args. all has no limit unless one is given, as for programs.
func pickOf(word string, kinds []string, args []string, all bool) (pick, error) {
	p := pick{limit: journalLines}
	args, p.csv = option(args, "--csv")
	if p.csv || all {
		p.limit = 0
	}
	for _, a := range args {
		n, err := strconv.Atoi(a)
		switch {
		case slices.Contains(kinds, strings.ToLower(a)):
			p.kind = strings.ToLower(a)
		case strings.EqualFold(a, "all"):
			p.limit = 0
		case err == nil && n > 0:
			p.limit = n
		default:
			return p, fmt.Errorf("%q is not a number of entries: type %s 50, or %s", a, word, strings.Join(append([]string{word + " all"}, kinds...), ", "))
		}
	}
	return p, nil
}

// newest are the last of list, as many as p wants, and how many are left out.
func newest[E any](p pick, list []E) (shown []E, left int) {
	if p.limit > 0 {
		left = max(0, len(list)-p.limit)
	}
	return list[left:], left
}

var journalKinds = []string{snap.JournalEvents.String(), snap.JournalSystem.String()}

// picked are the entries that the journals keep of the kind, and how many are lost.
func (p pick) picked(c *snap.Card) ([]snap.JournalEntry, uint32) {
	if k, ok := snap.JournalByName(p.kind); ok {
		return c.Entries(k)
	}
	return c.BothJournals()
}

func journal(v View, args []string) string {
	p, err := pickOf("journal", journalKinds, args, false)
	if err != nil {
		return sentence(err.Error())
	}
	list, lost := p.picked(&v.Dev.Card)
	list, left := newest(p, list)
	switch {
	case p.csv:
		return journalCSV(v, p, list, left)
	case len(list) == 0 && lost == 0:
		return "The journal is empty.\n"
	}
	var b strings.Builder
	b.WriteString(before(lost, left, strings.TrimSpace("journal "+p.kind)+" all"))
	for _, e := range list {
		fmt.Fprintf(&b, "  %5d  %s  %s\n", e.Seq, day(v.Dev.Card.DateOf(e.At)), printable(e.Text))
	}
	return b.String()
}

// before tells of entries that are lost, or not shown.
func before(lost uint32, left int, all string) (text string) {
	if lost > 0 {
		text = fmt.Sprintf("  (%s lost: there was no more room)\n", entryCount(int(lost)))
	}
	if left > 0 {
		text += fmt.Sprintf("  (%s before these: %s)\n", entryCount(left), all)
	}
	return text
}

// exact is a date for programs, to the millisecond.
func exact(t time.Time) string { return t.Format("2006-01-02T15:04:05.000Z07:00") }

// csvText writes rows as RFC 4180 has them.
func csvText(rows [][]string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	w.WriteAll(rows) // a builder takes everything
	return b.String()
}

// journalCSV has, before the first entry of each journal, how many it has lost.
func journalCSV(v View, p pick, list []snap.JournalEntry, left int) string {
	rows := [][]string{{"number", "date", "journal", "text"}}
	if left > 0 {
		rows = append(rows, []string{"", "", "", fmt.Sprintf("%s left out before these", entryCount(left))})
	}
	var told [snap.JournalKinds]bool
	tell := func(k snap.JournalKind) {
		if _, lost := v.Dev.Card.Entries(k); lost > 0 && !told[k] {
			rows = append(rows, []string{"", "", k.String(), fmt.Sprintf("%s lost before these", entryCount(int(lost)))})
		}
		told[k] = true
	}
	for _, e := range list {
		tell(e.Kind)
		rows = append(rows, []string{fmt.Sprint(e.Seq), exact(v.Dev.Card.DateOf(e.At)), e.Kind.String(), cell(e.Text)})
	}
	for k := range snap.JournalKind(snap.JournalKinds) {
		if p.kind == "" || p.kind == k.String() { // one that has nothing left
			tell(k)
		}
	}
	return csvText(rows)
}

// cell is a text that no spreadsheet takes for a formula.
func cell(text string) string {
	text = printable(text)
	if strings.IndexAny(text, "=+-@") == 0 {
		return "'" + text
	}
	return text
}

type journalLine struct {
	Seq     uint32 `json:"seq"`
	Journal string `json:"journal"`
	Time    string `json:"time"`
	Text    string `json:"text"`
}

type journalDocument struct {
	Lost    uint32        `json:"lost"`
	LeftOut int           `json:"left_out,omitempty"`
	Entries []journalLine `json:"entries"`
}

func journalData(v View, args []string) any {
	p, err := pickOf("journal", journalKinds, args, true)
	if err != nil {
		return err
	}
	list, lost := p.picked(&v.Dev.Card)
	list, left := newest(p, list)
	doc := journalDocument{Lost: lost, LeftOut: left, Entries: []journalLine{}}
	for _, e := range list {
		doc.Entries = append(doc.Entries, journalLine{e.Seq, e.Kind.String(), exact(v.Dev.Card.DateOf(e.At)), printable(e.Text)})
	}
	return doc
}

func entryCount(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return strconv.Itoa(n) + " entries"
}

// dataHead are the columns of the data log that are there for everybody.
var dataHead = []string{"number", "date", "source"}

// dataCells is a sample as text: empty where there is no reading.
func dataCells(v View, columns []snap.DataColumn, s *snap.Sample) []string {
	cells := []string{fmt.Sprint(s.Seq), exact(v.Dev.Card.DateOf(s.At)), s.Source.String()}
	for _, c := range columns {
		text := ""
		if n := c.Value(s); n != snap.NoReading {
			text = model.Decimal(n, c.Decimals)
		}
		cells = append(cells, text)
	}
	return cells
}

func dataLog(v View, args []string) string {
	p, err := pickOf("data-log", nil, args, false)
	if err != nil {
		return sentence(err.Error())
	}
	list, lost := v.Dev.Card.LoggedData()
	list, left := newest(p, list)
	columns := snap.DataColumns(v.Dev)
	rows := [][]string{slices.Clone(dataHead)}
	for _, c := range columns {
		rows[0] = append(rows[0], cell(c.Name))
	}
	for i := range list {
		rows = append(rows, dataCells(v, columns, &list[i]))
	}
	switch {
	case p.csv:
		return csvText(rows)
	case len(list) == 0:
		return "Nothing is logged: upkeep.data.every is " + setEvery(v) + ".\n"
	}
	return before(lost, left, "data-log all") + table(rows)
}

func setEvery(v View) string {
	if v.Dev.Card.Settings.Upkept().DataEvery == 0 {
		return "off"
	}
	return "set, and no interval has passed yet"
}

type dataDocument struct {
	Lost    uint32           `json:"lost"`
	LeftOut int              `json:"left_out,omitempty"`
	Entries []map[string]any `json:"entries"`
}

func dataLogData(v View, args []string) any {
	p, err := pickOf("data-log", nil, args, true)
	if err != nil {
		return err
	}
	list, lost := v.Dev.Card.LoggedData()
	list, left := newest(p, list)
	columns := snap.DataColumns(v.Dev)
	doc := dataDocument{Lost: lost, LeftOut: left, Entries: []map[string]any{}}
	for i := range list {
		s := &list[i]
		e := map[string]any{"seq": s.Seq, "time": exact(v.Dev.Card.DateOf(s.At)), "source": s.Source.String()}
		for _, c := range columns {
			if n := c.Value(s); n != snap.NoReading {
				e[c.Name] = scaled(n, c.Decimals)
			} else {
				e[c.Name] = nil
			}
		}
		doc.Entries = append(doc.Entries, e)
	}
	return doc
}

// scaled is n in steps of 10^-decimals as a number.
func scaled(n int64, decimals int) float64 {
	steps := 1.0
	for range decimals {
		steps *= 10
	}
	return float64(n) / steps
}
