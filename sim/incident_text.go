package sim

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"text/tabwriter"
	"time"

	"ridethrough/sim/internal/core/report"
)

// Text writes the comparison for people.
func (c *Comparison) Text(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s beside %s: %d readings, %d gaps, %s\n\n", c.Bundle, c.Scenario, c.Readings, c.Gaps, c.End)
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "QUANTITY\tREADINGS\tMEAN\tWORST\tAT\tRECORD\tMODEL\tLIMIT\t\n")
	for _, q := range c.Quantities {
		if q.Readings == 0 {
			fmt.Fprintf(t, "%s\t0\t\t\t\t\t\t\tnot in both\n", q.Name)
			continue
		}
		fmt.Fprintf(t, "%s\t%d\t%.1f %s\t%+.1f %s\t%s\t%.4g\t%.4g\t%.4g\t%s\n",
			q.Name, q.Readings, q.Mean, q.Unit, q.Worst, q.Unit, q.At.Round(time.Second), q.Record, q.Model, q.Limit, within(q.Met))
	}
	t.Flush()
	fmt.Fprintf(&b, "\nWhat feeds the output, to %g readings:\n", c.TransitionLimit)
	if len(c.Transitions) == 0 {
		b.WriteString("nothing changed, in the record or in the model\n")
	}
	t = tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, x := range c.Transitions {
		fmt.Fprintf(t, "%s\t%s\n", x.To, x.said())
	}
	t.Flush()
	if len(c.Result.Verdicts) > 0 {
		b.WriteString("\n")
		if err := c.Result.Brief(&b); err != nil {
			return err
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func within(met bool) string {
	if met {
		return "within"
	}
	return "above the limit"
}

func (t *Transition) said() string {
	second := func(d time.Duration) string { return d.Round(100 * time.Millisecond).String() }
	seen := "recorded between " + second(t.After) + " and " + second(t.Before)
	switch {
	case t.Extra:
		return "in the model alone, at " + second(t.Model)
	case t.Model < 0:
		return seen + ", not in the model"
	case t.Apart == 0:
		return seen + ", in the model at " + second(t.Model)
	}
	return fmt.Sprintf("%s, in the model at %s: %+d readings, %s", seen, second(t.Model), t.Apart, within(t.Met))
}

type jsonComparison struct {
	Version     int              `json:"ridethrough_comparison"`
	Bundle      string           `json:"bundle"`
	Scenario    string           `json:"scenario"`
	Readings    int              `json:"readings"`
	Gaps        int              `json:"gaps"`
	EndedMS     int64            `json:"ended_ms"`
	Met         bool             `json:"met"`
	Quantities  []jsonQuantity   `json:"quantities"`
	Transitions []jsonTransition `json:"transitions"`
	Limit       float64          `json:"transition_limit"`
	Result      json.RawMessage  `json:"result"`
}

type jsonQuantity struct {
	Name     string  `json:"name"`
	Unit     string  `json:"unit"`
	Readings int     `json:"readings"`
	Mean     float64 `json:"mean"`
	Worst    float64 `json:"worst"`
	AtMS     int64   `json:"at_ms"`
	Record   float64 `json:"record"`
	Model    float64 `json:"model"`
	Limit    float64 `json:"limit"`
	Met      bool    `json:"met"`
}

type jsonTransition struct {
	To       string `json:"to"`
	AfterMS  int64  `json:"after_ms"`
	BeforeMS int64  `json:"before_ms"`
	ModelMS  *int64 `json:"model_ms"`
	Apart    int    `json:"apart"`
	Extra    bool   `json:"extra"`
	Met      bool   `json:"met"`
}

// JSON writes the comparison as docs/json.md describes it.
func (c *Comparison) JSON(w io.Writer) error {
	var result bytes.Buffer
	if err := c.Result.JSON(&result); err != nil {
		return err
	}
	doc := jsonComparison{
		Version: 1, Bundle: c.Bundle, Scenario: c.Scenario, Readings: c.Readings, Gaps: c.Gaps, EndedMS: c.End.Milliseconds(), Met: c.Met(),
		Quantities: []jsonQuantity{}, Transitions: []jsonTransition{}, Limit: c.TransitionLimit, Result: result.Bytes(),
	}
	for _, q := range c.Quantities {
		doc.Quantities = append(doc.Quantities, jsonQuantity{q.Name, q.Unit, q.Readings, short(q.Mean), short(q.Worst), q.At.Milliseconds(), q.Record, q.Model, q.Limit, q.Met})
	}
	for _, t := range c.Transitions {
		x := jsonTransition{To: t.To, AfterMS: t.After.Milliseconds(), BeforeMS: t.Before.Milliseconds(), Apart: t.Apart, Extra: t.Extra, Met: t.Met}
		if t.Model >= 0 {
			ms := t.Model.Milliseconds()
			x.ModelMS = &ms
		}
		doc.Transitions = append(doc.Transitions, x)
	}
	return report.WriteJSON(w, doc)
}

// short is x to three decimals.
func short(x float64) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', 3, 64), 64)
	return y
}
