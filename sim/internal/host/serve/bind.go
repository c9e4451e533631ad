package serve

import (
	"context"
	"crypto"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/sshd"
	"ridethrough/sim/internal/host/login"
	"ridethrough/sim/internal/host/pty"
)

// bind opens every surface before any of them serves.
func (s *session) bind(ctx context.Context) (err error) {
	var lc net.ListenConfig
	if s.benchL, err = lc.Listen(ctx, "tcp", s.c.whereBench()); err != nil {
		return &BindError{Surface: "bench", Address: s.c.whereBench(), Err: cause(err)}
	}
	if err := s.openSinks(); err != nil {
		return err
	}
	for _, u := range s.units {
		if err := u.bind(ctx); err != nil {
			return err
		}
	}
	return nil
}

// bindFronts binds the network surfaces: where the flags say, or at the card's own
// addresses.
func (s *served) bindFronts(ctx context.Context) error {
	s.gate, s.line = newGate(&s.c, s.plan, s.card.Site), s.newLine()
	if !s.c.Real {
		f, err := openFront(ctx, s.at.snmp, s.at.ssh, s.c.Log)
		if err == nil {
			s.fronts.add(f)
		}
		return err
	}
	s.fronts.snmp, s.fronts.ssh = portOf(s.at.snmp), portOf(s.at.ssh)
	s.follow = newFollower(s)
	if err := s.follow.plug(); err != nil {
		return err
	}
	return s.follow.begin(ctx, s.card.Device())
}

func (s *served) openSerial() (err error) {
	link := s.at.serial
	if link == "" {
		folder, err := s.folder("serial")
		if err != nil {
			return err
		}
		link = filepath.Join(folder, strings.TrimPrefix(s.plan.UnitName+"-serial", "-"))
	}
	s.console, err = pty.Open(pty.Config{Source: s.card, Verify: s.verify, Link: link, Baud: s.c.Baud})
	if errors.Is(err, pty.ErrUnsupported) && s.at.serial == "" {
		s.c.Log(err.Error())
		return nil
	}
	if err != nil {
		return &BindError{Surface: "serial", Address: link, Err: err}
	}
	return nil
}

func (s *served) openSSH() (err error) {
	key, err := s.ownKey()
	if err != nil {
		return err
	}
	if key == nil {
		key = s.derived(0)
	}
	if s.sshd, err = sshd.New(s.shell(key)); err != nil {
		return err
	}
	print, err := s.sshd.ChangeHostKey(key)
	s.card.Ask(snap.Command{Op: snap.OpHostKey, Text: print, By: snap.Actor{Surface: "serve"}})
	return err
}

// takesWithin is how long a client of SSH has to take what is shown, beside what the link
// takes.
const takesWithin = 10 * time.Second

// shell is the card's SSH server with that key. A write over a lossy link takes as long as
// TCP goes on, which is no fault of the client's.
func (s *served) shell(key crypto.Signer) sshd.Config {
	return sshd.Config{
		Source: s.card, HostKey: key, Verify: s.verify, From: s.gate.seen,
		WriteWithin: takesWithin + snap.LongestResend.Duration(),
		OnPanic:     func(value any, stack []byte) { s.c.Log(fmt.Sprintf("ssh: internal fault: %v\n%s", value, stack)) },
	}
}

// newLogins asks real servers who knows users, where a scenario's are mapped to some.
func (s *served) newLogins() *login.Desk {
	return login.New(login.Config{
		Device: s.card.Device, Now: s.card.Now, Log: s.c.Log, Reaches: s.gate.reaches,
		Shown: func(of snap.ServerKey, expires time.Time) { s.posts.shown(of, expires) },
		Endpoint: func(at netip.AddrPort) (string, bool) {
			to, ok := s.c.Receivers[at]
			return to, ok
		},
	})
}

// verify asks who knows users.
func (s *served) verify(ctx context.Context, by snap.Actor, password string) snap.Verdict {
	return s.logins.Verify(ctx, by, password)
}

// folder is a temporary one that goes with the session.
func (s *session) folder(surface string) (path string, err error) {
	if s.temporary == "" {
		if s.temporary, err = os.MkdirTemp("", "ridethrough-"); err != nil {
			return "", &BindError{Surface: surface, Address: "a temporary folder", Err: err}
		}
	}
	return s.temporary, nil
}

// cause is err without the address, which the message names already.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}
