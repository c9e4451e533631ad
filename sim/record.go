package sim

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/host/record"
)

// Credentials are how a card lets itself be read by SNMP, by the names that
// docs/record.md has: community, or user, auth, auth_password, priv and
// priv_password.
type Credentials map[string]string

// RecordOptions are the options of [Record].
type RecordOptions struct {
	Agent       string      // HOST:PORT of the card's SNMP agent
	Version     string      // "1", "2c" or "3"
	Credentials Credentials // for it
	Out         string      // file to write, which must not be there
	NoScrub     bool        // keep names, addresses and serial numbers
	// Interval is from one reading to the next, at least a second; For how long to go
	// on, 0 until ctx is done.
	Interval, For time.Duration
	Timeout       time.Duration // for an answer
	Rate          float64       // requests in a second at most
	Also          []string      // object identifiers of more parts of the tree
	Notifications string        // HOST:PORT at which to listen for the card's notifications; "" for none
	// Log receives talk for people, a line a call.
	Log func(string)
	// Begins is called when the file is there and nothing was asked of the card yet.
	Begins func()
	// Listening is told the address at which notifications are heard.
	Listening func(at string)
}

// Bounds of a recording's options.
const (
	LeastRecordInterval = time.Second
	MostRecordRate      = 100
)

// Recording is what was recorded.
type Recording struct {
	Readings, Notifications, Gaps int
	Strange, Lost                 int64 // datagrams that were not from the card or not understood; for which there was no room
	Restarts                      int
	Dated                         bool // the card tells its date
	Ahead, Within                 time.Duration
	DriftPPM, DriftWithinPPM      float64 // of the card's clock, if Drifts
	Drifts                        bool
	Whole                         bool // it went on for as long as it should
}

// Record reads a real card by SNMP, without ever writing to it, into a bundle
// (docs/record.md). The error is an *InvalidError for options that cannot be, or an
// *IOError for a card that does not answer, a file or an address.
func Record(ctx context.Context, o RecordOptions) (*Recording, error) {
	c, err := o.config()
	if err != nil {
		return nil, err
	}
	out, err := os.OpenFile(o.Out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil, &IOError{Op: "write", Path: report.OneLine(o.Out), Err: errors.New("it is there already: choose another name")}
	}
	if err != nil {
		return nil, ioError("write", o.Out, err)
	}
	defer out.Close()
	if o.Begins != nil {
		o.Begins()
	}
	s, err := record.Record(ctx, c, out)
	if err != nil {
		return nil, o.failed(ctx, out, err)
	}
	if err := errors.Join(out.Sync(), out.Close()); err != nil {
		return nil, ioError("write", o.Out, err)
	}
	r := &Recording{
		Readings: s.Readings, Notifications: s.Notices, Gaps: s.Gaps, Strange: s.Strange, Lost: s.Lost,
		Restarts: s.Clocks.Restarts, Dated: s.Clocks.Dated, Ahead: s.Clocks.Ahead, Within: s.Clocks.Within, Whole: s.Whole,
	}
	r.DriftPPM, r.DriftWithinPPM, r.Drifts = s.Clocks.Drift()
	return r, nil
}

// failed says why there is no recording. A file in which nothing stands goes.
func (o *RecordOptions) failed(ctx context.Context, out *os.File, err error) error {
	if info, stat := out.Stat(); stat == nil && info.Size() == 0 && info.Mode().IsRegular() {
		os.Remove(o.Out)
	}
	var bind *record.BindError
	switch {
	case errors.As(err, &bind):
		return ioError("bind", o.Notifications, bind.Err)
	case record.IsNoAnswer(err) && ctx.Err() != nil:
		return &IOError{Op: "read", Path: o.Agent, Err: errors.New("interrupted before the first reading")}
	case record.IsNoAnswer(err):
		return &IOError{Op: "read", Path: o.Agent, Err: err}
	}
	return ioError("write", o.Out, err)
}

func (o *RecordOptions) config() (record.Config, error) {
	c := record.Config{
		Agent: o.Agent, Interval: o.Interval, For: o.For, Timeout: o.Timeout, Retries: 1, Rate: o.Rate,
		Listen: o.Notifications, Scrub: !o.NoScrub, Program: program(), Log: o.Log, Listening: o.Listening,
	}
	if c.Log == nil {
		c.Log = func(string) {}
	}
	switch {
	case o.Interval < LeastRecordInterval:
		return c, unfit("an interval of %s: expected at least %s", o.Interval, LeastRecordInterval)
	case o.For < 0 || o.For > 0 && o.For < o.Interval:
		return c, unfit("a recording of %s: expected at least one interval of %s", o.For, o.Interval)
	case o.Timeout <= 0 || o.Timeout > time.Minute:
		return c, unfit("a timeout of %s: expected up to %s", o.Timeout, time.Minute)
	case !(o.Rate > 0 && o.Rate <= MostRecordRate):
		return c, unfit("%g requests in a second: expected above 0, up to %d", o.Rate, MostRecordRate)
	}
	for _, text := range o.Also {
		oid, err := ber.ParseOID(text)
		if err != nil || len(oid) < 6 {
			return c, unfit("%q is no object identifier of a part of the tree, such as 1.3.6.1.4.1.32473.1", text)
		}
		c.Also = append(c.Also, oid)
	}
	var err error
	c.Login, err = o.Credentials.login(o.Version)
	return c, err
}

func unfit(format string, args ...any) *InvalidError {
	what := fmt.Sprintf(format, args...)
	return &InvalidError{What: what, text: report.OneLine(what)}
}

// CredentialNames are the names that [Credentials] may have.
func CredentialNames() []string {
	return []string{"community", "user", "auth", "auth_password", "priv", "priv_password"}
}

// leastPassword is of RFC 3414 section 11.2.
const leastPassword = 8

func (c Credentials) login(version string) (record.Login, error) {
	l := record.Login{Version: version}
	switch version {
	case "1", "2c":
		if c["community"] == "" {
			return l, unfit("SNMP version %s needs a community", version)
		}
		l.Community = snap.NewSecret(c["community"])
		return l, nil
	case "3":
		u, err := c.snmpUser()
		l.User = u
		return l, err
	}
	return l, unfit("there is no version %q of SNMP: expected 1, 2c or 3", version)
}

// snmpUser is the user of SNMPv3. Passwords are never said again.
func (c Credentials) snmpUser() (u snap.User, err error) {
	u.Name = c["user"]
	if u.Name == "" || len(u.Name) > 32 {
		return u, unfit("SNMP version 3 needs a user, of at most 32 octets")
	}
	var ok bool
	if u.Auth, ok = snap.AuthByName(cmp.Or(c["auth"], "none")); !ok {
		return u, unfit("auth %q: expected none, md5, sha-1, sha-224, sha-256, sha-384 or sha-512", c["auth"])
	}
	if u.Priv, ok = snap.PrivByName(cmp.Or(c["priv"], "none")); !ok {
		return u, unfit("priv %q: expected none, des, aes-128, aes-192-blumenthal, aes-256-blumenthal, aes-192-reeder or aes-256-reeder", c["priv"])
	}
	u.AuthPassword, u.PrivPassword = snap.NewSecret(c["auth_password"]), snap.NewSecret(c["priv_password"])
	switch {
	case u.Auth == snap.AuthNone && u.Priv != snap.PrivNone:
		return u, unfit("priv %s needs auth too", u.Priv)
	case u.Auth != snap.AuthNone && len(c["auth_password"]) < leastPassword:
		return u, unfit("auth %s needs an auth_password of at least %d octets", u.Auth, leastPassword)
	case u.Priv != snap.PrivNone && len(c["priv_password"]) < leastPassword:
		return u, unfit("priv %s needs a priv_password of at least %d octets", u.Priv, leastPassword)
	}
	u.Level = u.Highest()
	return u, nil
}
