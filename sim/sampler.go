package sim

import (
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/snmp"
)

// sampler takes readings of a run at times that need not be those of its frames: a
// value holds from one frame to the next.
type sampler struct {
	next func() (vtime.Tick, bool) // when the next reading is due; false: no more
	take func(bundle.Reading)

	due    vtime.Tick
	more   bool
	held   snap.Device // as of the last frame
	begun  bool
	source func(vtime.Tick, snap.OutputSource) // nil, or told each change of what feeds the output
	notice func(bundle.Notice)                 // nil, or told what the card sends
}

func (s *sampler) see(f engine.Frame) {
	if !s.begun {
		s.due, s.more = s.next()
	}
	if s.begun {
		s.until(f.Tick - 1)
	}
	if s.source != nil && (!s.begun || f.Site.Device.UPS.Source != s.held.UPS.Source) {
		s.source(f.Tick, f.Site.Device.UPS.Source)
	}
	s.held, s.begun = f.Site.Device, true
	if s.notice != nil {
		s.hear(f)
	}
}

// hear takes the notifications of a frame.
func (s *sampler) hear(f engine.Frame) {
	v := model.View{Dev: &s.held, Now: f.Tick}
	for i := range f.Effects {
		if f.Effects[i].Kind != snap.EffectNotify {
			continue
		}
		var m ber.Message
		message, ok := snmp.Bare(f.Effects[i].Notification, &v)
		if !ok || m.Decode(message) != nil {
			continue
		}
		n, _ := bundle.NoticeOf(&m.PDU)
		n.At, n.Version = f.Tick.Duration(), "2c"
		s.notice(n)
	}
}

// until takes what is due up to a tick.
func (s *sampler) until(last vtime.Tick) {
	for s.more && s.due <= last {
		s.take(bundle.Reading{At: s.due.Duration(), Objects: servedBy(&s.held, s.due)})
		s.due, s.more = s.next()
	}
}

// servedBy is everything that the card serves.
func servedBy(dev *snap.Device, now vtime.Tick) []bundle.Object {
	var list []bundle.Object
	v := model.View{Dev: dev, Now: max(now, dev.Tick)}
	for _, x := range model.ServedBy(&dev.Card) {
		for row := range x.Rows(&v) {
			value := x.At(&v, row)
			o := bundle.Object{Name: x.OID.Child(x.Instance(&v, row)), Value: ber.Value{Tag: x.Syntax.Tag}}
			switch x.Syntax.Tag {
			case ber.OctetString:
				o.Value.Bytes = []byte(value.Text)
			case ber.ObjectID:
				o.Value.OID = value.OID
			default:
				o.Value.Int = value.Int
			}
			list = append(list, o)
		}
	}
	return bundle.Sort(list)
}
