package expect

import (
	"fmt"
	"net/netip"
	"strings"
	"testing"

	"github.com/expr-lang/expr"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

// values is the site as the expression library's own machine wants it.
func (b *branch) values(s *snap.Site) any {
	if v := b.leaf; v != nil {
		switch v.Kind {
		case YesNo:
			return v.yes(s)
		case Number:
			return v.num(s)
		case Count:
			return int(v.num(s))
		case Word:
			return wordAt(v.Words, v.code(s))
		default:
			return addrText(v.addr(s))
		}
	}
	m := map[string]any{}
	for _, name := range b.order {
		m[name] = b.kids[name].values(s)
	}
	return m
}

// TestAgainstLibrary runs random conditions both ways: our closures, and the
// library's compiler and virtual machine.
func TestAgainstLibrary(t *testing.T) {
	c := NewCompiler(testNames)
	rapid.Check(t, func(t *rapid.T) {
		text := yesNoText(t, 3)
		if len(text) > MaxText {
			t.Skip()
		}
		site := anySite(t)
		cond, err := c.Compile(text)
		if err != nil {
			if strings.Contains(err.Error(), "looks at nothing") {
				t.Skip()
			}
			t.Fatalf("%s: %v", text, err)
		}
		env := c.root.values(site)
		program, err := expr.Compile(text, expr.Env(env), expr.AsBool())
		if err != nil {
			t.Fatalf("%s: the library says %v", text, err)
		}
		want, err := expr.Run(program, env)
		if err != nil {
			t.Fatalf("%s: the library says %v", text, err)
		}
		if got := cond.Eval(site); got != want {
			t.Fatalf("%s: %v, the library says %v; %s", text, got, want, cond.Show(site))
		}
	})
}

func anySite(t *rapid.T) *snap.Site {
	s := testSite()
	s.Tick = vtime.Tick(rapid.Int64Range(0, 200_000).Draw(t, "tick"))
	s.UPS.Source = snap.OutputSource(rapid.IntRange(1, 7).Draw(t, "source"))
	s.ChargePct = rapid.Float64Range(0, 100).Draw(t, "charge")
	s.Battery.Amps = float64(rapid.IntRange(-3, 3).Draw(t, "amps"))
	s.Groups[0].On = rapid.Bool().Draw(t, "on")
	s.Hosts[0].State = snap.HostState(rapid.IntRange(0, 5).Draw(t, "state"))
	s.Hosts[0].Starts = rapid.IntRange(0, 4).Draw(t, "starts")
	if rapid.Bool().Draw(t, "no address") {
		s.Card.Address.Prefix = netip.Prefix{}
	}
	return s
}

func pick(t *rapid.T, options ...string) string {
	return rapid.SampledFrom(options).Draw(t, "pick")
}

func yesNoText(t *rapid.T, depth int) string {
	if depth == 0 {
		return pick(t, "ups.on_battery", "groups.rack_a.on", "alarms.low_battery", "true",
			`(ups.source == "battery")`, `(ups.source in ["battery", "none"])`, `(hosts.db.state != "off")`, `("cut" == hosts["db"].state)`,
			`(hosts.db.state endsWith "ing")`, `(card.address == "")`, `(hosts.db.starts in [1, 2])`, `(card.address in ["192.0.2.10"])`)
	}
	a, b := func() string { return yesNoText(t, depth-1) }, func() string { return numberText(t, depth-1, false) }
	switch rapid.IntRange(0, 6).Draw(t, "form") {
	case 0:
		return fmt.Sprintf("(%s %s %s)", a(), pick(t, "and", "or", "&&", "||", "==", "!="), a())
	case 1:
		return pick(t, "not ", "!") + "(" + a() + ")"
	case 2:
		return fmt.Sprintf("(%s ? %s : %s)", a(), a(), a())
	case 3:
		return fmt.Sprintf("(%s < %s <= %s)", b(), b(), b())
	default:
		return fmt.Sprintf("(%s %s %s)", b(), pick(t, "<", "<=", ">", ">=", "==", "!="), b())
	}
}

func numberText(t *rapid.T, depth int, whole bool) string {
	if depth <= 0 {
		if whole {
			return pick(t, "hosts.db.starts", "hosts_cut", "sent.on_battery", "3", "0", "-2")
		}
		return pick(t, "battery.charge_pct", "battery.amps", "t_s", "hosts.db.starts", "50", "0.5", "2e1")
	}
	a := func() string { return numberText(t, depth-1, whole) }
	switch rapid.IntRange(0, 4).Draw(t, "form") {
	case 0:
		return fmt.Sprintf("(%s %s %s)", a(), pick(t, "+", "-", "*"), a())
	case 1:
		// The library's own machine trips over whole numbers beside others here.
		lead := map[bool]string{true: "", false: "0.0 + "}[whole]
		return fmt.Sprintf("%s(%s%s, %s%s)", pick(t, "min", "max"), lead, a(), lead, a())
	case 2:
		return fmt.Sprintf("abs(%s)", a())
	case 3:
		return fmt.Sprintf("(-%s)", a())
	default:
		if whole {
			return fmt.Sprintf("(%s %% 7)", a())
		}
		return fmt.Sprintf("(%s / 4 + (%s))", a(), numberText(t, depth-1, true))
	}
}
