package scenario

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

// extreme draws a value of f as it would be written: mostly the edges of what is
// accepted. It is "" for a key that has no edges.
func extreme(t *rapid.T, f field, name string) string {
	typ := f.typ
	if typ.Kind() == reflect.Pointer {
		typ = typ.Elem()
	}
	lo, hi := f.tag.Get("min"), f.tag.Get("max")
	pick := func(of ...string) string { return rapid.SampledFrom(of).Draw(t, name) }
	switch {
	case f.tag.Get("one") != "":
		return strconv.Quote(pick(strings.Split(f.tag.Get("one"), "|")...))
	case typ.Kind() == reflect.Bool:
		return pick("true", "false")
	case lo == "" || hi == "":
		return ""
	case typ == reflect.TypeFor[vtime.Tick]():
		return strconv.Quote(pick(lo, hi))
	case typ.Kind() == reflect.Int64:
		return pick(lo, hi)
	case typ.Kind() == reflect.Float64:
		a, _ := strconv.ParseFloat(lo, 64)
		b, _ := strconv.ParseFloat(hi, 64)
		return pick(lo, hi, fmt.Sprint(a+(b-a)*rapid.Float64Range(0, 1).Draw(t, name+" between")))
	}
	return ""
}

// keysOf are the lines of up to most keys of a table, and the tables in it.
func keysOf(t *rapid.T, b *strings.Builder, path string, typ reflect.Type, most int) {
	var subs []field
	fmt.Fprintf(b, "[%s]\n", path)
	left := rapid.IntRange(0, most).Draw(t, path)
	fields := fieldsOf(typ)
	chosen := map[int]bool{}
	for range left {
		chosen[rapid.IntRange(0, len(fields)-1).Draw(t, path+" key")] = true
	}
	for i, f := range fields {
		if _, many, ok := tableOf(f.typ); ok {
			if chosen[i] && !many {
				subs = append(subs, f)
			}
		} else if chosen[i] || f.tag.Get("need") != "" {
			if v := extreme(t, f, path+"."+f.key); v != "" {
				fmt.Fprintf(b, "%s = %s\n", f.key, v)
			}
		}
	}
	for _, f := range subs {
		sub, _, _ := tableOf(f.typ)
		keysOf(t, b, path+"."+f.key, sub, 4)
	}
}

// extremeSite is a scenario of which some physical keys are at the edges of what
// is accepted, with an outage, a sag and a return of the mains.
func extremeSite(t *rapid.T) string {
	var b strings.Builder
	b.WriteString("title = \"t\"\nrun_for = \"1h\"\n")
	for _, part := range []struct {
		key string
		typ reflect.Type
	}{
		{"source", reflect.TypeFor[supplyTable]()}, {"ups", reflect.TypeFor[upsTable]()},
		{"battery", reflect.TypeFor[batteryTable]()}, {"room", reflect.TypeFor[roomTable]()},
	} {
		if rapid.Bool().Draw(t, part.key+" is there") {
			keysOf(t, &b, part.key, part.typ, 3)
		}
	}
	fmt.Fprintf(&b, "[[host]]\nname = \"a\"\ndraw_w = %s\n", rapid.SampledFrom([]string{"0", "1", "900", "2700", "100000"}).Draw(t, "draw"))
	for _, entry := range []string{
		"time = \"10s\"\nsource = {sag_pct = 60, lasts = \"200ms\"}", "time = \"30s\"\nsource = \"lost\"", "time = \"12m\"\nsource = \"normal\"",
		"time = \"40m\"\ncharge_pct = 0", "time = \"41m\"\ntest = \"quick-battery\"", "time = \"50m\"\nsource = {volts = 80, over = \"5m\"}",
	} {
		b.WriteString("[[at]]\n" + entry + "\n")
	}
	return b.String()
}

// unfit is the path of the first number in v that is none, "" if all are.
func unfit(v reflect.Value, path string) string {
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return fmt.Sprintf("%s is %v", path, f)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if bad := unfit(v.Field(i), path+"."+v.Type().Field(i).Name); bad != "" {
				return bad
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if bad := unfit(v.Index(i), fmt.Sprintf("%s[%d]", path, i)); bad != "" {
				return bad
			}
		}
	}
	return ""
}

// TestNoAcceptedValueGivesNaN: whatever the file says within what is accepted, every
// number of every snapshot is one.
func TestNoAcceptedValueGivesNaN(t *testing.T) {
	accepted, all := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		src := extremeSite(t)
		all++
		p, err := Load("extreme.toml", []byte(src), Options{})
		if err != nil {
			if strings.Contains(err.Error(), "unknown key") {
				t.Fatalf("the test writes what is no scenario: %v\n%s", err, src)
			}
			return // some keys exclude each other
		}
		accepted++
		e, f, err := engine.New(p, nil)
		if err != nil {
			t.Fatal(err)
		}
		for {
			if bad := unfit(reflect.ValueOf(*f.Site), "site"); bad != "" {
				t.Fatalf("at %v: %s\n%s", f.Tick, bad, src)
			}
			if e.Ended() {
				return
			}
			f = e.Step(p.RunFor)
		}
	})
	if accepted < all/3 {
		t.Errorf("only %d of %d were accepted", accepted, all)
	}
	t.Logf("%d of %d were accepted", accepted, all)
}

// TestUnfitIsFound: the check above can fail.
func TestUnfitIsFound(t *testing.T) {
	site := snap.Site{Groups: make([]snap.Group, 1)}
	if bad := unfit(reflect.ValueOf(site), "site"); bad != "" {
		t.Error(bad)
	}
	site.Device.Battery.Volts = math.NaN()
	if bad := unfit(reflect.ValueOf(site), "site"); bad != "site.Device.Battery.Volts is NaN" {
		t.Errorf("%q", bad)
	}
}
