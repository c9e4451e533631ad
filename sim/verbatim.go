package sim

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"io"
	"net"
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/pace"
	"ridethrough/sim/internal/host/playback"
)

// VerbatimOptions are the options of [Verbatim].
type VerbatimOptions struct {
	SNMP     string  // HOST:PORT to listen at; "" is 127.0.0.1:0
	Speed    float64 // recorded seconds in a real one; 0 means 1
	Loop     bool    // begin again at the end
	Receiver string  // HOST:PORT where the notifications go; "" for nowhere
	Expose   bool    // allow addresses beyond loopback
	// Credentials are of whoever may read. Without a community there is one that the
	// ready record tells; without a user SNMPv3 is silent.
	Credentials Credentials
	// Ready receives the ready record, one line of JSON; ReadyFile the same by rename.
	Ready     io.Writer
	ReadyFile string
	// Log receives talk for people, a line a call.
	Log func(string)
}

// Verbatim serves the bundle at path by SNMP as it was recorded: each reading from its
// time on, silence in gaps, notifications at their times. It says whether it came to
// the end. The error is an *IOError or an *InvalidError.
func Verbatim(ctx context.Context, path string, o VerbatimOptions) (whole bool, err error) {
	b, err := readBundle(path, o.Log)
	if err != nil {
		return false, err
	}
	c := playback.Config{Bundle: b, SNMP: o.SNMP, Speed: o.Speed, Loop: o.Loop, Receiver: o.Receiver}
	if c.SNMP == "" {
		c.SNMP = "127.0.0.1:0"
	}
	if c.Speed == 0 {
		c.Speed = 1
	}
	if err := pace.Check(c.Speed); err != nil {
		return false, unfit("%s", err)
	}
	if err := o.near(c.SNMP, c.Receiver); err != nil {
		return false, err
	}
	if c.Login, err = o.login(); err != nil {
		return false, err
	}
	c.Ready, c.ReadyFile = o.Ready, o.ReadyFile
	whole, err = playback.Play(ctx, c)
	var bind *playback.BindError
	var ready *playback.ReadyError
	switch {
	case errors.As(err, &bind):
		return false, ioError("bind", bind.Address, bind.Err)
	case errors.As(err, &ready):
		return false, ioError("write", cmp.Or(o.ReadyFile, "the ready record"), ready.Err)
	}
	return whole, err
}

// near refuses addresses beyond loopback that nobody said are meant.
func (o *VerbatimOptions) near(addresses ...string) error {
	for _, text := range addresses {
		host, _, err := net.SplitHostPort(text)
		if text == "" || o.Expose {
			continue
		}
		at, parse := netip.ParseAddr(host)
		if err != nil || host != "localhost" && (parse != nil || !at.IsLoopback()) {
			return unfit("%s is not a loopback address; --expose says that this is meant", text)
		}
	}
	return nil
}

func (o *VerbatimOptions) login() (l playback.Login, err error) {
	community := o.Credentials["community"]
	if community == "" {
		community = "read-" + rand.Text()[:12]
	}
	l.Community = snap.NewSecret(community)
	if o.Credentials["user"] != "" {
		l.User, err = o.Credentials.snmpUser()
	}
	return l, err
}
