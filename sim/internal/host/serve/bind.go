package serve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/sshd"
	"ridethrough/sim/internal/host/login"
	"ridethrough/sim/internal/host/pty"
)

// bind opens every surface before any of them serves.
func (s *session) bind(ctx context.Context) error {
	var lc net.ListenConfig
	if err := s.bindFronts(ctx); err != nil {
		return err
	}
	var err error
	if s.benchL, err = lc.Listen(ctx, "tcp", s.c.Bench); err != nil {
		return &BindError{Surface: "bench", Address: s.c.Bench, Err: cause(err)}
	}
	s.logins = s.newLogins()
	if err := s.openSerial(); err != nil {
		return err
	}
	if err := s.openSinks(); err != nil {
		return err
	}
	s.notify = openSender(ctx, &s.c, s.agent, s.loop.Submit)
	s.notify.reaches = s.gate.reaches
	if err := s.notify.follow(s.c.First.Site.Card.Settings.Alerting()); err != nil {
		return err
	}
	s.posts = newPoster(s.c.Receivers, s.loop.Submit, s.c.Log)
	return s.openSSH()
}

// bindFronts binds the network surfaces: where the flags say, or at the card's own
// addresses.
func (s *session) bindFronts(ctx context.Context) error {
	s.gate = newGate(&s.c, s.loop.Site)
	if !s.c.Real {
		f, err := openFront(ctx, s.c.SNMP, s.c.SSH, s.c.Log)
		if err == nil {
			s.fronts.add(f)
		}
		return err
	}
	s.fronts.snmp, s.fronts.ssh = portOf(s.c.SNMP), portOf(s.c.SSH)
	s.follow = newFollower(s)
	if err := s.follow.plug(); err != nil {
		return err
	}
	return s.follow.begin(ctx, &s.c.First.Site.Device)
}

func (s *session) openSerial() (err error) {
	link := s.c.Serial
	if link == "" {
		if s.temporary, err = os.MkdirTemp("", "ridethrough-"); err != nil {
			return &BindError{Surface: "serial", Address: "a temporary folder", Err: err}
		}
		link = filepath.Join(s.temporary, "serial")
	}
	s.console, err = pty.Open(pty.Config{Source: s.loop, Verify: s.verify, Link: link, Baud: s.c.Baud})
	if errors.Is(err, pty.ErrUnsupported) && s.c.Serial == "" {
		s.c.Log(err.Error())
		return nil
	}
	if err != nil {
		return &BindError{Surface: "serial", Address: link, Err: err}
	}
	return nil
}

func (s *session) openSSH() (err error) {
	key, err := s.hostKey()
	if err != nil {
		return err
	}
	if key == nil {
		key = s.derived(0)
	}
	s.sshd, err = sshd.New(sshd.Config{
		Source: s.loop, HostKey: key, Verify: s.verify,
		OnPanic: func(value any, stack []byte) { s.c.Log(fmt.Sprintf("ssh: internal fault: %v\n%s", value, stack)) },
	})
	if err != nil {
		return err
	}
	print, err := s.sshd.ChangeHostKey(key)
	s.loop.Ask(snap.Command{Op: snap.OpHostKey, Text: print, By: snap.Actor{Surface: "serve"}})
	return err
}

// newLogins asks real servers who knows users, where a scenario's are mapped to some.
func (s *session) newLogins() *login.Desk {
	return login.New(login.Config{
		Device: s.loop.Device, Now: s.loop.Now, Log: s.c.Log, Reaches: s.gate.reaches,
		Shown: func(of snap.ServerKey, expires time.Time) { s.posts.shown(of, expires) },
		Endpoint: func(at netip.AddrPort) (string, bool) {
			to, ok := s.c.Receivers[at]
			return to, ok
		},
	})
}

// verify asks who knows users.
func (s *session) verify(ctx context.Context, by snap.Actor, password string) snap.Verdict {
	return s.logins.Verify(ctx, by, password)
}

// cause is err without the address, which the message names already.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}
