package report

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// Line is one line of the condensed timeline. Of several things of one kind
// that did the same at the same instant it is one line.
type Line struct {
	Event
	kind  string   // "host", "group" or "alarm" if more may join; else ""
	names []string // of that kind
	what  string   // what they all did
}

// listed is how many names a line gives before it only counts them.
const listed = 6

// Timeline is the condensed timeline: without notifications, which follow from
// the alarms and are counted at the end.
func (r *Result) Timeline() []Line {
	var lines []Line
	instant := 0 // the first line of the present instant
	for _, e := range r.Events {
		if k := e.What.Kind; k == snap.WhatNotify || k == snap.WhatNotifyEnded {
			continue
		}
		l := newLine(e)
		if instant < len(lines) && lines[instant].Tick != e.Tick {
			instant = len(lines)
		}
		if i := slices.IndexFunc(lines[instant:], l.joins); i >= 0 {
			lines[instant+i].names = append(lines[instant+i].names, l.names...)
			continue
		}
		lines = append(lines, l)
	}
	for i := range lines {
		lines[i].word()
	}
	return lines
}

func newLine(e Event) Line {
	e.Subject, e.Text = OneLine(e.Subject), OneLine(e.Text)
	l := Line{Event: e}
	kind, name, _ := strings.Cut(e.Subject, " ")
	switch e.What.Kind {
	case snap.WhatHost, snap.WhatHostGap, snap.WhatHostWaits, snap.WhatHostElse, snap.WhatGroupOn, snap.WhatGroupOff, snap.WhatGroupShed:
		l.kind, l.names, l.what = kind, []string{name}, e.Text
	case snap.WhatAlarmRaised, snap.WhatAlarmCleared:
		if name, what, ok := strings.Cut(e.Text, " "); ok {
			l.kind, l.names, l.what = alarms, []string{name}, what
		}
	}
	return l
}

// alarms is the kind of lines about alarms, whose names stand in their text.
const alarms = "alarm"

func (l *Line) joins(other Line) bool {
	return l.kind != "" && l.kind == other.kind && l.what == other.what && (l.kind != alarms || l.What.Unit == other.What.Unit)
}

// word says what the line tells once all have joined.
func (l *Line) word() {
	names := strings.Join(l.names[:min(listed, len(l.names))], ", ")
	if more := len(l.names) - listed; more > 0 {
		names += fmt.Sprintf(" and %d more", more)
	}
	switch {
	case l.kind == "":
	case l.kind == alarms:
		l.Text = names + " " + l.what
	case len(l.names) > 1:
		l.Subject, l.Text = l.kind+"s", names+": "+l.what
	}
}
