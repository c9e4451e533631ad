package vtime

import (
	"strings"
	"testing"
	"time"
)

// TestZone against the IANA database as Go ships it: the rules that the zones have
// had since 2007 (Central Europe since 1996), every three hours of four years.
func TestZone(t *testing.T) {
	for rule, name := range map[string]string{
		"UTC0": "UTC", "CET-1CEST,M3.5.0,M10.5.0/3": "Europe/Paris", "EST5EDT,M3.2.0,M11.1.0": "America/New_York",
		"AEST-10AEDT,M10.1.0,M4.1.0/3": "Australia/Sydney", "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0": "Australia/Lord_Howe",
		"IST-5:30": "Asia/Kolkata", "<-02>2<-01>,M3.5.0/-1,M10.5.0/0": "America/Nuuk",
	} {
		zone, err := Zone(rule)
		if err != nil {
			t.Errorf("%s: %v", rule, err)
			continue
		}
		want, err := time.LoadLocation(name)
		if err != nil {
			t.Skipf("this machine has no time zones: %v", err)
		}
		for at := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2028; at = at.Add(3 * time.Hour) {
			if a, b := at.In(zone).Format(time.DateTime), at.In(want).Format(time.DateTime); a != b {
				t.Fatalf("%s at %v: %s, in %s %s", rule, at, a, name, b)
			}
		}
	}
}

// TestFixedRule: the rule of an offset gives that offset.
func TestFixedRule(t *testing.T) {
	for text, want := range map[string]string{
		"2026-03-02T07:55:00Z": "UTC0", "2026-03-02T07:55:00+01:00": "<+01>-1", "2026-03-02T07:55:00-03:30": "<-0330>+3:30", "2026-03-02T07:55:00+05:45": "<+0545>-5:45",
	} {
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		zone, err := Zone(FixedRule(at))
		if err != nil || FixedRule(at) != want || at.In(zone).Format(time.RFC3339) != text {
			t.Errorf("%s: %s, %v", text, FixedRule(at), err)
		}
	}
}

func TestNoZone(t *testing.T) {
	for rule, reason := range map[string]string{
		"": "is no rule", "Europe/Paris": "is no rule", "CET": "is no rule", "CET-1CEST": "needs its dates", "CET-25": "is no rule",
		"CET-1CEST,M13.5.0,M10.5.0": "is no rule", "CET-1CEST,M3.5.0": "is no rule", "UTC0\n": "is no rule", "UTC0 ": "is no rule", "X0": "is no rule",
	} {
		if _, err := Zone(rule); err == nil || !strings.Contains(err.Error(), reason) {
			t.Errorf("%q: %v", rule, err)
		}
	}
}

func FuzzZone(f *testing.F) {
	for _, rule := range []string{"UTC0", "CET-1CEST,M3.5.0,M10.5.0/3", "<+1030>-10:30<+11>-11,M10.1.0,M4.1.0", "A-1B,J60,300/26"} {
		f.Add(rule, int64(1_767_222_000))
	}
	f.Fuzz(func(t *testing.T, rule string, at int64) {
		if zone, err := Zone(rule); err == nil {
			if name, _ := time.Unix(at%(1<<40), 0).In(zone).Zone(); name == "" {
				t.Errorf("%q at %d has no name", rule, at)
			}
		}
	})
}
