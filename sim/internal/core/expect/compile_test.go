package expect

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

func TestCompileTrue(t *testing.T) {
	c := NewCompiler(testNames)
	site := testSite()
	for _, text := range []string{
		`ups.source == "battery"`,
		`"battery" == ups.source`,
		`ups.source != "normal"`,
		`ups.source in ["battery", "bypass"]`,
		`ups.source not in ["normal", "booster"]`,
		`not (ups.source in ["normal"])`,
		`ups.source startsWith "batt"`,
		`ups.test contains "quick"`,
		`ups.test endsWith "battery"`,
		`hosts.db.state == "stopping" and hosts["web_1"].cuts == 7`,
		`hosts.db.ended == ""`,
		`hosts.db.state != hosts.web_1.state`,
		`card.address == "192.0.2.10"`,
		`card.address in ["", "192.0.2.10"]`,
		`groups.rack_a.on && !groups.rack_b.on`,
		`groups.rack_a.on == true`,
		`groups.rack_a.on != groups.rack_b.on`,
		`70 < battery.charge_pct < 72`,
		`t_s == 100`,
		`t_s <= 5 * 60 - 200 and t_s >= 200 / 2`,
		`-t_s < 0 and +t_s > 0`,
		`hosts.db.starts % 2 == 0`,
		`hosts.db.cuts + hosts.web_1.cuts == hosts_cut`,
		`min(hosts.db.starts, hosts.web_1.starts, 9) == 2`,
		`max(battery.amps, 1) == 11.25 and abs(-3) == 3`,
		`(ups.on_battery ? battery.volts : 0) > 72`,
		`ups.on_battery ? alarms.on_battery : false`,
		`sent.on_battery >= 1 or false`,
		`ups.runtime_min * 60 == 270`,
		"ups.on_battery\n  and ups.output_on",
	} {
		cond, err := c.Compile(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if !cond.Eval(site) {
			t.Errorf("%s: false, with %s", text, cond.Show(site))
		}
		if n := testing.AllocsPerRun(20, func() { cond.Eval(site) }); n != 0 {
			t.Errorf("%s: %v allocations", text, n)
		}
		negated, err := c.Compile("not (" + text + ")")
		if err != nil || negated.Eval(site) {
			t.Errorf("not (%s): %v, or true", text, err)
		}
	}
}

func TestCompileErrors(t *testing.T) {
	c := NewCompiler(testNames)
	for _, tc := range []struct{ text, want string }{
		{``, `0: the condition is empty; expected a claim such as "ups.on_battery"`},
		{`ups.sourc == "battery"`, `4: ups has no "sourc"; expected one of source, on_battery, on_battery_s, output_on, load_w, load_pct, runtime_min, transfers, line_bads, shutdown_in_s, startup_in_s, reboot_in_s and 16 more; did you mean "source"?`},
		{`hosts.bd.state == "off"`, `6: hosts has no "bd"; expected one of db, web_1; did you mean "db"?`},
		{`hosts.web1.powered`, `6: hosts has no "web1"; expected one of db, web_1; did you mean "web_1"?`},
		{`hosts["web1"].powered`, `6: hosts has no "web1"; expected one of db, web_1; did you mean "web_1"?`},
		{`battry.volts > 70`, `0: there is nothing called "battry"; expected one of recipients, collectors, sinks, hosts, groups, probes, contacts, peers, switches, t_s, source, room, ups, bypass, battery, outlets, card, sign_ins, schedule, journal, data_log, energy, hosts_running, hosts_stopped, hosts_cut, policy, monitor, relay_1, relay_2, relay_3, relay_4, alerts, mails, syslog, alarms, sent, acknowledged, unacknowledged; did you mean "battery"?`},
		{`ups > 3`, `0: ups is not a value but a family of them; expected a dot and one of source, on_battery, on_battery_s, output_on, load_w, load_pct, runtime_min, transfers, line_bads, shutdown_in_s, startup_in_s, reboot_in_s and 16 more`},
		{`t_s.x > 3`, `4: t_s is a single value and has no "x"; expected t_s alone`},
		{`ups.source == "batery"`, `14: ups.source is never "batery"; expected one of "other", "none", "normal", "bypass", "battery", "booster", "reducer"; did you mean "battery"?`},
		{`ups.source in ["normal", "boost"]`, `25: ups.source is never "boost"; expected one of "other", "none", "normal", "bypass", "battery", "booster", "reducer"; did you mean "booster"?`},
		{`ups.source contains "xy"`, `20: no word that ups.source can be contains "xy"; expected a part of one of "other", "none", "normal", "bypass", "battery", "booster", "reducer"`},
		{`ups.source > 3`, `0: a word stands before >; expected a number`},
		{`ups.source == 3`, `14: a word is compared with a number; expected two values of the same kind`},
		{`ups.on_battery and t_s`, `19: a number stands after and; expected something that is true or false, such as a comparison`},
		{`t_s + 1`, `0: the condition is a number; expected something that is true or false, such as a comparison`},
		{`1 < 2`, `0: the condition looks at nothing; expected a variable in it, such as "ups.on_battery"`},
		{`t_s / 0 > 1`, `6: division by zero; expected another divisor`},
		{`t_s % 2 == 0`, `4: % stands beside a number with a fraction; expected whole numbers on both sides`},
		{`card.address == "10.0.0"`, `16: "10.0.0" is not an address that card.address can be; expected an address such as "192.0.2.10", or ""`},
		{`ups.source in "normal"`, `14: no list stands after in; expected a list of literals such as ["normal", "booster"]`},
		{`t_s in [t_s]`, `8: the list after in holds something that is computed; expected numbers or quoted words only`},
		{`len(ups.source) > 3`, `0: there is no function "len"; expected min, max or abs`},
		{`mix(t_s, 2) > 3`, `0: there is no function "mix"; expected min, max or abs; did you mean "min"?`},
		{`min(t_s) > 3`, `0: min has 1 arguments; expected two or more`},
		{`abs(t_s, 2) > 3`, `0: abs has 2 arguments; expected one`},
		{`t_s ** 2 > 3`, `4: the operator "**" is not part of the language; expected == != < <= > >= and or not + - * / % in contains startsWith endsWith`},
		{`ups.source matches "b.*"`, `11: the operator "matches" is not part of the language; expected == != < <= > >= and or not + - * / % in contains startsWith endsWith`},
		{`let x = 1; t_s > x`, `4: this kind of expression is not part of the language; expected comparisons, and, or, not, arithmetic, in, ? :, min, max, abs`},
		{`hosts[ups.source].powered`, `5: a name cannot be computed; expected a dot and a name`},
		{`ups?.on_battery`, `5: this kind of expression is not part of the language; expected comparisons, and, or, not, arithmetic, in, ? :, min, max, abs`},
		{`t_s > 1 ? 3 : true`, `14: the two sides of : are a number and a yes/no value; expected two numbers or two yes/no values`},
		{`t_s >`, `4: the condition ends too early`},
		{`t_s > 1 )`, `8: unexpected ")"`},
		{strings.Repeat("0 < (t_s + abs(", 12) + "t_s" + strings.Repeat(")) < 9 ? 1 : 0", 12) + " > 0", `242: the condition has too many parts; expected a simpler one`},
		{strings.Repeat("(", 1001), `0: the condition is too long; expected at most 1000 bytes`},
	} {
		_, err := c.Compile(tc.text)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s: error %v", tc.text, err)
			continue
		}
		if got := fmt.Sprintf("%d: %v", e.At, e); got != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", tc.text, got, tc.want)
		}
	}
}

// TestShow checks what a verdict prints: every variable once, with its value.
func TestShow(t *testing.T) {
	cond, err := NewCompiler(testNames).Compile(`t_s > 5 and hosts.db.state == "off" and t_s < 900`)
	if err != nil {
		t.Fatal(err)
	}
	const want = `t_s = 100.000, hosts.db.state = "stopping"`
	if got := cond.Show(testSite()); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// TestUnknownCode: a code outside the table is no word at all and breaks nothing.
func TestUnknownCode(t *testing.T) {
	site := testSite()
	site.UPS.Source = 0
	cond, err := NewCompiler(testNames).Compile(`ups.source contains "a" or ups.source in ["other", "reducer"]`)
	if err != nil {
		t.Fatal(err)
	}
	if cond.Eval(site) || cond.Show(site) != `ups.source = "unknown"` {
		t.Errorf("true, or %s", cond.Show(site))
	}
}

func FuzzCompile(f *testing.F) {
	for _, seed := range []string{
		`ups.source == "battery" and hosts.db.draw_w > 3`, `one(1, #)`, `1 | one(`, `a ?? b`, `{"a": 1}.a`, `ups.source[1:2]`, `min(1,2,t_s)>0`, `"\u00e9" == ups.source`,
	} {
		f.Add(seed)
	}
	c := NewCompiler(testNames)
	site := testSite()
	f.Fuzz(func(t *testing.T, text string) {
		cond, err := c.Compile(text)
		if err == nil {
			cond.Eval(site)
			cond.Show(site)
			return
		}
		if strings.ContainsAny(err.Error(), "\n\r") {
			t.Errorf("%q: more than one line: %q", text, err)
		}
		var e *Error
		if !errors.As(err, &e) || e.At < 0 || e.At > len(text) {
			t.Errorf("%q: position outside: %v", text, err)
		}
	})
}

func BenchmarkEval(b *testing.B) {
	for _, text := range []string{
		`ups.on_battery`, `battery.charge_pct < 40`, `hosts.db.state == "running" and hosts.db.starts == 1`, `alarms.low_battery or ups.shutdown_in_s >= 0`,
	} {
		b.Run(text, func(b *testing.B) {
			cond, err := NewCompiler(testNames).Compile(text)
			if err != nil {
				b.Fatal(err)
			}
			site := testSite()
			b.ReportAllocs()
			for b.Loop() {
				benchSink = cond.Eval(site)
			}
		})
	}
}

var benchSink bool
