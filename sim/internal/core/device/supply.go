package device

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Supply is what reaches the unit's input: RMS volts of each line to neutral, of
// which the first Lines count, and their frequency in hertz.
type Supply struct {
	Volts     [3]float64
	Lines     int
	Hz        float64
	Generator bool // it is a generator: the unit takes it over slowly
}

// Load is what the outlets draw: the sums, and what hangs on each line of the
// output.
type Load struct {
	Watts, VA float64
	Line      [3]LineLoad
}

// LineLoad is the load of one line.
type LineLoad struct {
	Watts, VA float64
}

// Add puts a load on one line of the output, counted from 1, or spreads it over
// all lines if line is 0 or more than there are.
func (l *Load) Add(line, lines int, watts, va float64) {
	l.Watts += watts
	l.VA += va
	lines = max(lines, 1)
	if line >= 1 && line <= lines {
		l.Line[line-1].add(watts, va)
		return
	}
	share := float64(lines)
	for i := range min(lines, len(l.Line)) {
		l.Line[i].add(watts/share, va/share)
	}
}

func (l *LineLoad) add(watts, va float64) {
	l.Watts += watts
	l.VA += va
}

func linesIn(cfg plan.UPS) int  { return max(cfg.LinesIn, 1) }
func linesOut(cfg plan.UPS) int { return max(cfg.LinesOut, 1) }

func nominalFeed(src plan.Source, lines int) snap.Feed {
	f := snap.Feed{Volts: src.Volts, Hz: src.Hz, Good: true, Lines: lines}
	for i := range lines {
		f.V[i] = src.Volts
	}
	return f
}

func nominalSupply(src plan.Source) Supply {
	return Supply{Volts: [3]float64{src.Volts, src.Volts, src.Volts}, Lines: 3, Hz: src.Hz}
}

// SetAmbient tells the unit the temperature of the room it stands in, in degrees
// Celsius.
func (u *UPS) SetAmbient(tempC float64) { u.Physics.RoomC = tempC }

// supply is the present supply.
func (u *UPS) supply() Supply {
	return Supply{Volts: u.feed.V, Lines: u.feed.Lines, Hz: u.feed.Hz, Generator: u.generator}
}

// SetSupply changes what reaches input and bypass at now. It returns the length of
// the gap that the output saw, 0 for none. Lines that the unit needs and the supply
// lacks are dead.
func (u *UPS) SetSupply(now vtime.Tick, s, bypass Supply) (gap vtime.Tick) {
	was := u.feed
	u.feed, u.bypass = u.judge(s), bypass
	if u.feed.Bad != was.Bad || u.generator != s.Generator {
		u.upset() // the voltage alone, inside the window, moves no power
	}
	u.generator = s.Generator
	u.seeInput(now, was.Good)
	u.followBypass(now)
	u.leaveInput(now)
	u.chooseTap()
	return u.TakeGap()
}

// judge holds the lines that the unit uses against the input window.
func (u *UPS) judge(s Supply) snap.Feed {
	f := snap.Feed{Hz: s.Hz, Lines: linesIn(u.cfg), Good: true}
	for i := range f.Lines {
		if i < s.Lines {
			f.V[i] = s.Volts[i]
		}
		f.Bad[i] = !u.within(f.V[i], f.Hz, u.feed.Bad[i])
		f.Good = f.Good && !f.Bad[i]
	}
	f.Volts = f.V[0]
	return f
}

// backHz is how far back inside a limit the frequency of a bad input must come.
const backHz = 0.1

// within judges one line; a bad one must come back a little further than it
// went, so that it does not chatter at the edge.
func (u *UPS) within(volts, hz float64, bad bool) bool {
	low, high := u.config.LowTransferVolts, u.config.HighTransferVolts
	slow, fast := u.cfg.LowHz, u.cfg.HighHz
	if bad {
		low, high = low+u.cfg.HysteresisV, high-u.cfg.HysteresisV
		slow, fast = slow+backHz, fast-backHz
	}
	return volts >= low && volts <= high && hz >= slow && hz <= fast
}

// feedText is a supply for people.
func feedText(f *snap.Feed) string { return supplyText(f.V[:f.Lines], f.Hz) }

// supplyText is the volts of each line and the frequency.
func supplyText(lines []float64, hz float64) string {
	var volts []string
	for _, v := range lines {
		volts = append(volts, fmt.Sprintf("%.1f", v))
	}
	return fmt.Sprintf("%s V %.2f Hz", strings.Join(volts, "/"), hz)
}
