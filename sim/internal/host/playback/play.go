package playback

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"encoding/hex"
	"io"
	"net"
	"sync"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/pace"
)

// Login is who may read.
type Login struct {
	Community snap.Secret // of SNMPv1 and SNMPv2c; empty: those are silent
	User      snap.User   // of SNMPv3; without a name it is silent
}

// access is to everything, to be read.
func (l *Login) access() *snap.Access {
	a := &snap.Access{V1: !l.Community.Empty(), RealEngineTime: true, Reader: snap.Views{Read: snap.Everything()}}
	a.V2c = a.V1
	if l.User.Name != "" {
		u := l.User
		u.Views = snap.Views{Read: snap.Everything()}
		a.V3, a.Users = true, []snap.User{u}
	}
	return a
}

// Config is what to play, and where.
type Config struct {
	Bundle *bundle.Bundle
	Login  Login
	SNMP   string  // HOST:PORT to listen at
	Speed  float64 // recorded seconds in a real one
	Loop   bool    // begin again at the end
	// Receiver is HOST:PORT where notifications go, in SNMPv2c; "" for nowhere.
	Receiver string
	// Ready receives the ready record before time begins to run, one line of JSON;
	// ReadyFile the same by rename, until it ends.
	Ready     io.Writer
	ReadyFile string
}

// BindError is an address that could not be used.
type BindError struct {
	Address string
	Err     error
}

// Error is one line.
func (e *BindError) Error() string { return "cannot bind " + e.Address + ": " + e.Err.Error() }

// Unwrap is the cause.
func (e *BindError) Unwrap() error { return e.Err }

// Play serves the bundle until it has ended or ctx is done; it says whether it ended.
func Play(ctx context.Context, c Config) (whole bool, err error) {
	clock, err := pace.New(c.Speed)
	if err != nil {
		return false, err
	}
	conn, err := new(net.ListenConfig).ListenPacket(ctx, "udp", c.SNMP)
	if err != nil {
		return false, &BindError{c.SNMP, err}
	}
	var serving sync.WaitGroup
	defer serving.Wait()
	defer conn.Close()
	receiver, err := dial(ctx, c.Receiver)
	if err != nil {
		return false, &BindError{c.Receiver, err}
	}
	if receiver != nil {
		defer receiver.Close()
	}
	var dice [16]byte
	rand.Read(dice[:]) // never fails
	// Another engine each time: managers remember boots and time of one that they know.
	s := newStage(c.Bundle, &c.Login, "played-"+hex.EncodeToString(dice[8:]), c.Loop, clock.Now)
	agent := snmp.New(s, snmp.Config{Clock: clock.Elapsed, Salt: binary.BigEndian.Uint64(dice[:8]), Objects: s.objects})
	c.withdraw()
	defer c.withdraw()
	if err := c.announce(conn.LocalAddr().String()); err != nil {
		return false, err
	}
	clock.Start()
	serving.Go(func() { answer(conn, agent) })
	return follow(ctx, clock, receiver, &c), nil
}

func dial(ctx context.Context, to string) (net.Conn, error) {
	if to == "" {
		return nil, nil
	}
	return new(net.Dialer).DialContext(ctx, "udp", to)
}

// answer serves until the socket is closed.
func answer(conn net.PacketConn, agent *snmp.Agent) {
	in, out := make([]byte, 1<<16), make([]byte, 0, snmp.DefaultMaxSize)
	for {
		n, peer, err := conn.ReadFrom(in)
		if err != nil {
			return
		}
		if out = agent.Handle(in[:n], peer.String(), out); len(out) > 0 {
			conn.WriteTo(out, peer)
		}
	}
}

// follow sends the notifications at their times, to the end of the bundle.
func follow(ctx context.Context, clock *pace.Clock, receiver net.Conn, c *Config) (whole bool) {
	round := tick(c.Bundle.End + c.Bundle.Interval)
	for base := vtime.Tick(0); ; base += round {
		for i := range c.Bundle.Notices {
			n := &c.Bundle.Notices[i]
			if !wait(ctx, clock, base+tick(n.At)) {
				return false
			}
			if receiver != nil {
				receiver.Write(trap(n, c.Login.Community.Reveal(), int32(i+1))) // nobody has to be there
			}
		}
		if !wait(ctx, clock, base+round) {
			return false
		}
		if !c.Loop {
			return true
		}
	}
}

func wait(ctx context.Context, clock *pace.Clock, until vtime.Tick) bool {
	timer := time.NewTimer(clock.Until(until))
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}

// trap is n as a trap of SNMPv2c.
func trap(n *bundle.Notice, community string, id int32) []byte {
	out, message := ber.Open(nil, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, ber.V2c)
	out = ber.AppendString(out, ber.OctetString, community)
	out, pdu := ber.Open(out, ber.TrapV2)
	for _, number := range []int64{int64(id), 0, 0} {
		out = ber.AppendInt(out, ber.Integer, number)
	}
	out, list := ber.Open(out, ber.Sequence)
	out = appendBinding(out, ber.MustOID("1.3.6.1.2.1.1.3.0"), ber.Value{Tag: ber.TimeTicks, Int: n.Uptime})
	out = appendBinding(out, ber.MustOID("1.3.6.1.6.3.1.1.4.1.0"), ber.Value{Tag: ber.ObjectID, OID: n.Trap})
	for _, o := range n.Objects {
		out = appendBinding(out, o.Name, o.Value)
	}
	return ber.Close(ber.Close(ber.Close(out, list), pdu), message)
}

func appendBinding(out []byte, name ber.OID, v ber.Value) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	return ber.Close(bundle.Append(ber.AppendOID(out, name), v), mark)
}
