package bundle

import (
	"math"
	"time"
)

// Objects that tell of the card's clocks.
var (
	sysUpTime    = named("1.3.6.1.2.1.1.3.0")
	hrSystemDate = named("1.3.6.1.2.1.25.1.2.0") // RFC 2790
)

// Clocks compares the card's clocks with the recorder's, without anything that sets
// clocks: sysUpTime says when the card started and how fast its clock runs,
// hrSystemDate, where it is served, what the card takes the date to be.
type Clocks struct {
	Start    time.Time // of the recording
	Restarts int       // times that sysUpTime began anew

	// Ahead is by how much the card's date is ahead of the recorder's, if Dated,
	// within Within, at the last reading.
	Dated  bool
	Ahead  time.Duration
	Within time.Duration

	began  bool
	first  point // since the last restart
	latest point
}

// point is both clocks at one time.
type point struct{ recorder, card time.Duration }

// See takes a reading into account.
func (c *Clocks) See(r *Reading) {
	if v, ok := r.Find(sysUpTime); ok {
		c.uptime(point{r.At, time.Duration(v.Int) * 10 * time.Millisecond})
	}
	c.Within = max(r.Took, 10*time.Millisecond)
	if v, ok := r.Find(hrSystemDate); ok {
		if date, ok := dateOf(v.Bytes, c.Start.Location()); ok {
			c.Dated, c.Ahead = true, date.Sub(c.Start.Add(r.At)).Round(100*time.Millisecond)
			c.Within += 100 * time.Millisecond
		}
	}
}

// wrap is when sysUpTime begins again by itself: after 497 days.
const wrap = (1 << 32) * 10 * time.Millisecond

func (c *Clocks) uptime(p point) {
	if c.began && p.card < c.latest.card {
		if wrap-c.latest.card < time.Hour && p.card < time.Hour {
			p.card += wrap
		} else {
			c.Restarts++
			c.began = false
		}
	}
	if !c.began {
		c.first, c.began = p, true
	}
	c.latest = p
}

// Drift is by how many parts per million the card's clock runs too fast, since its
// last start, and how far off that may be; false if it was not seen for a minute.
func (c *Clocks) Drift() (ppm, within float64, ok bool) {
	span := c.latest.recorder - c.first.recorder
	if !c.began || span < time.Minute {
		return 0, 0, false
	}
	ppm = 1e6 * (float64(c.latest.card-c.first.card)/float64(span) - 1)
	return ppm, 1e6 * float64(2*c.Within) / float64(span), true
}

func (c *Clocks) line() *clock {
	if !c.began && !c.Dated {
		return nil
	}
	l := &clock{Starts: c.Restarts, WithinMS: c.Within.Milliseconds()}
	if c.Dated {
		ms := c.Ahead.Milliseconds()
		l.AheadMS = &ms
	}
	if ppm, _, ok := c.Drift(); ok {
		ppm = math.Round(10*ppm) / 10
		l.DriftPPM = &ppm
	}
	return l
}

// dateOf reads a DateAndTime (RFC 2579), in the recorder's zone if it has none.
func dateOf(b []byte, zone *time.Location) (time.Time, bool) {
	if len(b) != 8 && len(b) != 11 {
		return time.Time{}, false
	}
	if len(b) == 11 {
		offset := int(b[9])*3600 + int(b[10])*60
		if b[8] == '-' {
			offset = -offset
		}
		zone = time.FixedZone("", offset)
	}
	year := int(b[0])<<8 | int(b[1])
	if year == 0 || b[2] < 1 || b[2] > 12 || b[3] < 1 || b[3] > 31 || b[4] > 23 || b[5] > 59 || b[6] > 60 || b[7] > 9 {
		return time.Time{}, false
	}
	return time.Date(year, time.Month(b[2]), int(b[3]), int(b[4]), int(b[5]), int(b[6]), int(b[7])*100_000_000, zone), true
}
