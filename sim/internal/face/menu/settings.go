package menu

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// field is one setting that the menu edits.
type field uint8

const (
	fieldName field = iota
	fieldLocation
	fieldContact
	fieldUnit
	fieldAttached
	fieldMode
	fieldFixed
	fieldGateway
	fieldRead
	fieldWrite
	fieldCount
)

// fieldSet is a set of fields, one bit each.
type fieldSet uint16

func (f fieldSet) has(x field) bool { return f&(1<<x) != 0 }

// fieldInfo says how a setting is named, shown and carried over. Max is the
// longest text allowed; it is 0 for the parts of the address, which have a
// dialog of their own.
type fieldInfo struct {
	label string
	help  string
	max   int
	at    func(*snap.Settings) *string // of a text
	show  func(snap.Settings) string
	copy  func(dst *snap.Settings, src snap.Settings)
}

// Lengths: DisplayString (RFC 2579) allows 255 characters; RFC 1628 allows 63
// for upsIdentName and upsIdentAttachedDevices. That of a community is ours.
var fieldTable = [fieldCount]fieldInfo{
	fieldName:     text("name", "name of the card in SNMP", 255, func(s *snap.Settings) *string { return &s.Name }),
	fieldLocation: text("location", "where the unit stands", 255, func(s *snap.Settings) *string { return &s.Location }),
	fieldContact:  text("contact", "who looks after the unit", 255, func(s *snap.Settings) *string { return &s.Contact }),
	fieldUnit:     text("name of the UPS", "name of the unit itself", 63, func(s *snap.Settings) *string { return &s.UPSName }),
	fieldAttached: text("attached devices", "what the unit feeds", 63, func(s *snap.Settings) *string { return &s.Attached }),
	fieldRead:     text("read community", "SNMP v1 and v2c: what a reader has to send", 32, func(s *snap.Settings) *string { return &s.ReadCommunity }),
	fieldWrite:    text("write community", "SNMP v1 and v2c: what a writer has to send", 32, func(s *snap.Settings) *string { return &s.WriteCommunity }),
	fieldMode: {label: "address mode",
		show: func(s snap.Settings) string { return string(s.Mode) },
		copy: func(dst *snap.Settings, src snap.Settings) { dst.Mode = src.Mode }},
	fieldFixed: {label: "fixed address",
		show: func(s snap.Settings) string { return orNone(s.Fixed) },
		copy: func(dst *snap.Settings, src snap.Settings) { dst.Fixed = src.Fixed }},
	fieldGateway: {label: "gateway",
		show: func(s snap.Settings) string { return orNone(s.Gateway) },
		copy: func(dst *snap.Settings, src snap.Settings) { dst.Gateway = src.Gateway }},
}

func text(label, help string, max int, at func(*snap.Settings) *string) fieldInfo {
	return fieldInfo{label: label, help: help, max: max, at: at,
		show: func(s snap.Settings) string { return *at(&s) },
		copy: func(dst *snap.Settings, src snap.Settings) { *at(dst) = *at(&src) },
	}
}

// orNone is v as text, or "none" while it is not valid.
func orNone(v interface {
	IsValid() bool
	String() string
}) string {
	if !v.IsValid() {
		return "none"
	}
	return v.String()
}

// merged is what save would write: the card's memory as it is now, with the
// edited fields laid over it, so that what others saved meanwhile survives.
func (s State) merged(v View) snap.Settings {
	m := v.Dev.Card.Saved
	for f := range fieldCount {
		if s.edited.has(f) {
			fieldTable[f].copy(&m, s.draft)
		}
	}
	return m
}

// changes are the fields that save would change.
func (s State) changes(v View) []field {
	var list []field
	m := s.merged(v)
	for f, info := range fieldTable {
		if info.show(m) != info.show(v.Dev.Card.Saved) {
			list = append(list, field(f))
		}
	}
	return list
}

func (s State) listChanges(v View) string {
	list := s.changes(v)
	if len(list) == 0 {
		return "Nothing is edited.\n"
	}
	var b strings.Builder
	m := s.merged(v)
	for _, f := range list {
		info := &fieldTable[f]
		fmt.Fprintf(&b, "  %-17s %s -> %s\n", info.label, quoted(info, v.Dev.Card.Saved), quoted(info, m))
	}
	return b.String()
}

// quoted shows a text in quotes, so that an empty one can be seen.
func quoted(info *fieldInfo, s snap.Settings) string {
	if info.max > 0 {
		return fmt.Sprintf("%q", info.show(s))
	}
	return info.show(s)
}

func (s State) undo(v View) (State, Output) {
	n := len(s.changes(v))
	s.edited, s.draft = 0, snap.Settings{}
	if n == 0 {
		return s.again(v, "Nothing is edited.\n")
	}
	return s.again(v, fmt.Sprintf("%s forgotten.\n", count(n, "change")))
}

func (s State) save(v View) (State, Output) {
	if len(s.changes(v)) == 0 {
		return s.ask(v, askWord, "Nothing is edited: nothing to save.\n")
	}
	m := s.merged(v)
	return s.submit(snap.Command{Op: snap.OpSave, Settings: &m}, "")
}

func (s State) saved(v View, r snap.Result) (State, Output) {
	if r.Status != snap.Done {
		s.goal = stay
		return s.ask(v, askWord, "Not saved: "+r.Reason+".\n")
	}
	s.edited, s.draft = 0, snap.Settings{}
	const text = "Saved. It comes into force when the card restarts.\n"
	if s.goal == stay {
		return s.ask(v, askWord, text)
	}
	return s.pursue(v, text)
}

// openTexts asks for the fields one after the other.
func (s State) openTexts(v View, first field, more ...field) (State, Output) {
	s.field, s.rest = first, 0
	for _, f := range more {
		s.rest |= 1 << f
	}
	return s.ask(v, askText, `Enter keeps what is in brackets, - empties it.`+"\n")
}

func (s State) takeText(v View, line string) (State, Output) {
	info := &fieldTable[s.field]
	value := strings.TrimSpace(line)
	switch value {
	case "?":
		return s.again(v, fmt.Sprintf("%s: %s. Up to %d plain characters. Enter keeps what is in brackets, - empties it.\n", info.label, info.help, info.max))
	case "":
		return s.nextText(v)
	case "-":
		value = ""
	}
	if reason := checkText(value, info.max); reason != "" {
		return s.again(v, reason+"\n")
	}
	s.put(s.field, value)
	return s.nextText(v)
}

// put edits one text.
func (s *State) put(f field, value string) {
	*fieldTable[f].at(&s.draft) = value
	s.edited |= 1 << f
}

// edit takes the fields from with into the draft.
func (s *State) edit(with snap.Settings, fields ...field) {
	for _, f := range fields {
		fieldTable[f].copy(&s.draft, with)
		s.edited |= 1 << f
	}
}

func (s State) nextText(v View) (State, Output) {
	for f := range fieldCount {
		if s.rest.has(f) {
			s.field, s.rest = f, s.rest&^(1<<f)
			return s.again(v, "")
		}
	}
	return s.ask(v, askWord, s.reminder(v))
}

// reminder says what has to follow an edit.
func (s State) reminder(v View) string {
	if n := len(s.changes(v)); n > 0 {
		return count(n, "change") + " not saved yet: changes lists, save keeps.\n"
	}
	return "Nothing changed.\n"
}

// checkText says what is wrong with value, "" if nothing is.
func checkText(value string, max int) string {
	if len(value) > max {
		return fmt.Sprintf("%d characters are too many: at most %d.", len(value), max)
	}
	for _, r := range value {
		if r < ' ' || r > '~' {
			return "Plain characters only: letters, digits, space and signs without accents."
		}
	}
	return ""
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
