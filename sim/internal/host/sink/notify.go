package sink

import (
	"errors"
	"net"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

// receiver is a sink of notifications.
type receiver struct {
	*sink
	read *snmp.Receiver
	acks atomic.Int32 // acknowledgements that wait for their time
}

// maxAcks bounds those; of more the sender hears nothing.
const maxAcks = 1024

func newReceiver(k *sink) *receiver {
	users := k.cfg.Users
	if len(users) == 0 {
		users = k.set.c.Plan.Card.Access.Users
	}
	return &receiver{sink: k, read: snmp.NewReceiver("sink "+k.cfg.Name, k.cfg.Community, users)}
}

// run takes datagrams until the socket is closed.
func (r *receiver) run() {
	b := make([]byte, maxDatagram)
	for {
		n, from, err := r.udp.ReadFromUDP(b)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err == nil {
			r.take(b[:n], from)
		}
	}
}

func (r *receiver) take(b []byte, from *net.UDPAddr) {
	state := r.state()
	if !state.Up || state.Answer == string(plan.AnswerClosed) || state.Answer == string(plan.AnswerSilent) {
		return
	}
	h, err := r.read.Hear(b, int32(r.set.c.Elapsed()/time.Second))
	if err != nil {
		r.arrive(from, &snap.Arrival{Subject: "unreadable"}, "no notification: "+err.Error())
		return
	}
	if h.Reply != nil {
		r.udp.WriteToUDP(h.Reply, from)
	}
	if h.Arrival == nil {
		return
	}
	if h.Arrival.Key != "" {
		h.Arrival.Key = from.String() + "/" + h.Arrival.Key
	}
	result := r.arrive(from, h.Arrival, h.Why)
	if answer := r.answer(&h, result); answer != nil {
		r.later(answer, from)
	}
}

// answer is what the sender of an inform hears, nil for nothing.
func (r *receiver) answer(h *snmp.Heard, result snap.Result) []byte {
	const genErr = 5
	switch acks := plan.Acks(r.state().Acks); {
	case h.Why != "" || result.Reason == snap.Lost || acks == plan.AcksNever:
		return nil
	case result.Status == snap.Denied:
		return h.Answer(genErr, 0)
	case result.Status != snap.Done:
		return nil
	case acks == plan.AcksWrong:
		return h.Answer(0, 1)
	}
	return h.Answer(0, 0)
}

// later sends the answer when the server has taken its time.
func (r *receiver) later(answer []byte, to *net.UDPAddr) {
	if r.acks.Add(1) > maxAcks {
		r.acks.Add(-1)
		return
	}
	time.AfterFunc(r.takes(), func() {
		r.acks.Add(-1)
		r.udp.WriteToUDP(answer, to) // a socket that is closed by now sends nothing
	})
}
