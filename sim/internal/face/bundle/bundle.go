package bundle

import (
	"slices"
	"time"

	"ridethrough/sim/internal/face/ber"
)

// Format is the version of the form that is written.
const Format = 1

// Header is what is known before the first reading.
type Header struct {
	Start    time.Time     // by the recorder's clock
	Interval time.Duration // from the beginning of one reading to that of the next
	Version  string        // of SNMP: "1", "2c", "3", or "none" for a simulation's own
	Scrubbed bool          // pseudonyms stand in the place of names
	Program  string        // that recorded it
}

// Object is one instance and its value.
type Object struct {
	Name  ber.OID
	Value ber.Value
}

// Reading is what the card answered with at one time. Objects are in the order of
// their names and belong to the reader.
type Reading struct {
	At      time.Duration // since the header's Start, when the first request left
	Took    time.Duration // until the last answer came
	Objects []Object
}

// Find is the value of the object of that name.
func (r *Reading) Find(name ber.OID) (ber.Value, bool) {
	i, ok := slices.BinarySearchFunc(r.Objects, name, func(o Object, n ber.OID) int { return o.Name.Compare(n) })
	if !ok {
		return ber.Value{}, false
	}
	return r.Objects[i].Value, true
}

// Notice is a notification that came.
type Notice struct {
	At      time.Duration
	Version string // of SNMP
	Inform  bool   // an acknowledgement was asked for
	Peer    string // where it came from; a pseudonym if scrubbed
	Trap    ber.OID
	Uptime  int64    // sysUpTime in it, hundredths of a second
	Objects []Object // in the order of the message, without these two
}

// Gap is a reading that was due and did not come, and why.
type Gap struct {
	At  time.Duration
	Why string
}

// Bundle is a recording.
type Bundle struct {
	Header
	Readings []Reading
	Notices  []Notice
	Gaps     []Gap
	End      time.Duration // of the recording; of one that was cut off, of its last line
	// Cut says that the end is missing, as when the recorder was killed: nothing says
	// then whether the rest is as it was written.
	Cut bool
}

// Sort puts objects in the order of their names and drops all but the first of a
// name.
func Sort(objects []Object) []Object {
	slices.SortStableFunc(objects, func(a, b Object) int { return a.Name.Compare(b.Name) })
	return slices.CompactFunc(objects, func(a, b Object) bool { return a.Name.Equal(b.Name) })
}
