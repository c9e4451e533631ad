package site

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// sink is what a server has kept.
type sink struct {
	seen snap.Sink // without how the server is
	seed uint64
	draw func() float64 // for what gets lost; nil until something may be
}

func newSink(cfg *plan.Server, seed uint64) *sink {
	if !cfg.Sink {
		return nil
	}
	return &sink{seed: seed, seen: snap.Sink{
		Name: cfg.Name, Kind: string(cfg.Kind), At: addressed(cfg.Address, fmt.Sprint(cfg.Port)),
		Last: vtime.Never, Matched: make([]int, len(cfg.Matches)),
	}}
}

// viewSinks is what there is to see of all of them.
func (s *Site) viewSinks() []snap.Sink {
	if s.servers.sinks == nil {
		return nil
	}
	var list []snap.Sink
	for i := range s.servers.list {
		v := &s.servers.list[i]
		if v.sink == nil {
			continue
		}
		x := v.sink.seen
		x.Up, x.Answer, x.Takes = s.atWork(v), string(v.now.Answer), v.now.Takes
		x.TLS, x.SignIn, x.Acks = v.now.TLS, v.now.SignIn, string(v.now.Acks)
		list = append(list, x)
	}
	if !slices.EqualFunc(list, s.servers.sinks.shown, sameSink) {
		s.servers.sinks.shown = list
	}
	return s.servers.sinks.shown
}

func sameSink(a, b snap.Sink) bool {
	return a.Count == b.Count && a.Refused == b.Refused && a.Lost == b.Lost && a.Repeats == b.Repeats && a.Last == b.Last &&
		a.Up == b.Up && a.Answer == b.Answer && a.Takes == b.Takes && a.TLS == b.TLS && a.SignIn == b.SignIn && a.Acks == b.Acks
}

// keep takes a message in, unless it gets lost or has come before. From then on it is
// the sink's.
func (s *Site) keep(now vtime.Tick, v *server, a *snap.Arrival) (lost bool) {
	k := v.sink
	tidyArrival(a)
	switch x := &k.seen; {
	case k.loses(v.now.DropsPct):
		x.Lost++
		s.tellOfSink(v, "lost: "+told(a))
		return true
	case a.Key != "" && slices.ContainsFunc(x.Kept, func(o *snap.Arrival) bool { return o.Key == a.Key }):
		x.Repeats++
		s.tellOfSink(v, "once more: "+told(a))
	default:
		k.put(now, v.cfg.Matches, a)
		s.tellOfSink(v, told(a))
	}
	return false
}

func (k *sink) put(now vtime.Tick, matches []plan.Match, a *snap.Arrival) {
	x := &k.seen
	x.Count, x.Last = x.Count+1, now
	a.ID, a.At, a.Matched = uint64(x.Count), now, nil
	counts := slices.Clone(x.Matched)
	for i := range matches {
		if meets(&matches[i], a) {
			counts[i]++
			a.Matched = append(a.Matched, matches[i].Name)
		}
	}
	x.Matched = counts
	from := max(0, len(x.Kept)-snap.MaxArrivals+1)
	x.Kept = append(slices.Clone(x.Kept[from:]), a) // who looks at the old list keeps it
}

// tellOfSink records an event of the sink v.
func (s *Site) tellOfSink(v *server, text string) {
	s.says(snap.What{Kind: snap.WhatSink}, "sink "+v.cfg.Name, text)
}

// turnAway counts a message that is not taken.
func (s *Site) turnAway(v *server, a *snap.Arrival, why string) {
	v.sink.seen.Refused++
	s.tellOfSink(v, "refused: "+told(a)+": "+line(why, snap.MaxArrivalLine))
}

func (k *sink) loses(pct float64) bool {
	if pct <= 0 {
		return false
	}
	if k.draw == nil {
		k.draw = rng.Stream(k.seed, "sink/"+k.seen.Name).Float64
	}
	return float64(k.draw()*100) < pct
}

// meets says whether a message is one of those that are counted.
func meets(m *plan.Match, a *snap.Arrival) bool {
	return has(a.From, m.From) && has(strings.Join(a.To, " "), m.To) && has(a.Subject, m.Subject) && has(a.Text, m.Text) && under(a.OID, m.OID)
}

func has(text, part string) bool {
	return part == "" || strings.Contains(strings.ToLower(text), strings.ToLower(part))
}

// under says whether an object identifier begins with another one.
func under(oid, top string) bool {
	return top == "" || oid == top || strings.HasPrefix(oid, top+".")
}

// told is the message in a line.
func told(a *snap.Arrival) string {
	text := a.Subject
	if a.From != "" {
		text = a.From + ": " + text
	}
	if a.OID != "" && a.Text != "" {
		text += " " + line(a.Text, 80)
	}
	return line(text, 2*snap.MaxArrivalLine)
}

// tidyArrival bounds everything that somebody outside has said.
func tidyArrival(a *snap.Arrival) {
	a.To = slices.Clone(a.To[:min(len(a.To), snap.MaxArrivalTo)])
	for _, text := range []*string{&a.From, &a.Subject, &a.OID, &a.Version, &a.Key} {
		*text = line(*text, snap.MaxArrivalLine)
	}
	for i := range a.To {
		a.To[i] = line(a.To[i], snap.MaxArrivalLine)
	}
	a.Text = strings.ToValidUTF8(a.Text[:min(len(a.Text), snap.MaxArrivalText)], "\uFFFD")
}

// line is text without anything but printed characters, of at most so many bytes.
func line(text string, most int) string {
	text = strings.ToValidUTF8(text[:min(len(text), 4*most)], "\uFFFD")
	text = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, text)
	text = strings.Join(strings.Fields(text), " ")
	return strings.ToValidUTF8(text[:min(len(text), most)], "")
}
