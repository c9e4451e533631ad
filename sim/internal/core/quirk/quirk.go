package quirk

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Family is what a quirk is about.
type Family string

// Families, in the order of the kinds.
const (
	Values        Family = "values"
	Protocol      Family = "protocol"
	Capacity      Family = "capacity"
	Security      Family = "SNMPv3"
	Notifications Family = "notifications"
	Start         Family = "start"
)

// Objects says which objects a quirk may be given.
type Objects uint8

// Choices of objects.
const (
	NoObjects  Objects = iota
	AnyObjects         // every object of RFC 1628
	Numbers            // those that are numbers but no codes
	Codes              // enumerations
)

// Range is a setting that is a number: its default and its limits. Its zero value
// is a setting that the quirk does not have.
type Range struct{ Default, Min, Max float64 }

// Span is a setting that is a duration, likewise.
type Span struct{ Default, Min, Max vtime.Tick }

// Entry is one quirk of the catalogue.
type Entry struct {
	Kind   snap.QuirkKind
	Family Family
	Does   string // what the card does
	Client string // what a correct client does about it
	Source string // where that is from

	Objects        Objects
	DefaultObjects []string // empty with Objects: they must be given
	Alarms         bool     // it must be given alarms
	Count          Range    // whole numbers
	Value          Range    // whole numbers
	Percent        Range
	Delay          Span // real time
	Lasts          Span // simulated time
	ShowsUnit      bool // the modelled policy sees it, without any socket
}

// All is the catalogue, in the order of the kinds.
func All() []Entry { return slices.Clone(catalogue) }

// Of is the entry of a kind; it panics for one that is not in the catalogue.
func Of(k snap.QuirkKind) *Entry {
	for i := range catalogue {
		if catalogue[i].Kind == k {
			return &catalogue[i]
		}
	}
	panic("quirk: no entry for " + k.String())
}

// Names are the names of all quirks.
func Names() []string {
	names := make([]string, len(catalogue))
	for i := range catalogue {
		names[i] = catalogue[i].Kind.String()
	}
	return names
}

// Allows says whether the quirk may be given the object.
func (e *Entry) Allows(o *snap.Object) bool {
	switch e.Objects {
	case AnyObjects:
		return true
	case Numbers:
		return o.Number()
	case Codes:
		return o.Kind == snap.Coded
	}
	return false
}

// Choice is the names of the objects that the quirk may be given.
func (e *Entry) Choice() []string {
	var names []string
	for _, o := range snap.Objects() {
		if e.Allows(&o) {
			names = append(names, o.Name)
		}
	}
	return names
}

// Quirk is the quirk with the defaults of its settings.
func (e *Entry) Quirk() snap.Quirk {
	return snap.Quirk{
		Kind: e.Kind, Objects: e.DefaultObjects, Count: int(e.Count.Default), Value: int64(e.Value.Default),
		Percent: e.Percent.Default, Delay: e.Delay.Default, Lasts: e.Lasts.Default,
	}
}
