package sink

import (
	"bufio"
	"bytes"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
)

// collect takes datagrams (RFC 5426) until the socket is closed.
func (k *sink) collect() {
	b := make([]byte, maxDatagram)
	for {
		n, from, err := k.udp.ReadFromUDP(b)
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if state := k.state(); err != nil || !state.Up || state.Answer == string(plan.AnswerSilent) || state.Answer == string(plan.AnswerClosed) {
			continue
		}
		a := site.ParseSyslog(b[:n])
		k.arrive(from, &a, "")
	}
}

// handshake is how a TLS client begins (RFC 8446 section 5.1).
const handshake = 0x16

// stream takes messages over TCP (RFC 6587), or TLS (RFC 5425) if it begins like that.
// Whatever the server has against a message, all that it can do is to hang up.
func (k *sink) stream(conn net.Conn) {
	r := bufio.NewReaderSize(conn, 4<<10)
	conn.SetReadDeadline(time.Now().Add(longest))
	first, err := r.Peek(1)
	if err != nil {
		return
	}
	secured := first[0] == handshake
	var from io.Reader = r
	if secured {
		t, err := k.secure(conn, r)
		if err != nil {
			k.arrive(conn.RemoteAddr(), &snap.Arrival{Subject: "TLS", TLS: true}, err.Error())
			return
		}
		defer t.Close()
		from = t
	}
	frames := frames{conn: conn, in: bufio.NewReaderSize(from, 4<<10)}
	for {
		text, err := frames.next()
		if err != nil {
			if !errors.Is(err, io.EOF) && !errors.Is(err, net.ErrClosed) && !isTimeout(err) {
				k.arrive(conn.RemoteAddr(), &snap.Arrival{Subject: "unreadable"}, err.Error())
			}
			return
		}
		a := site.ParseSyslog(text)
		a.TLS = secured
		if r := k.arrive(conn.RemoteAddr(), &a, ""); r.Status != snap.Done {
			return
		}
	}
}

func isTimeout(err error) bool {
	var n net.Error
	return errors.As(err, &n) && n.Timeout()
}

// secure is the TLS side of a connection of which some octets have been read.
func (k *sink) secure(conn net.Conn, read io.Reader) (*tls.Conn, error) {
	c := k.tls()
	if c == nil {
		return nil, errors.New("the server offers no TLS")
	}
	t := tls.Server(&peeked{conn, read}, c)
	conn.SetDeadline(time.Now().Add(patience))
	if err := t.Handshake(); err != nil {
		return nil, fmt.Errorf("TLS: %w", err)
	}
	conn.SetDeadline(time.Time{})
	return t, nil
}

// peeked is a connection that is read through something else.
type peeked struct {
	net.Conn
	read io.Reader
}

// Read implements [net.Conn].
func (p *peeked) Read(b []byte) (int, error) { return p.read.Read(b) }

// frames cuts a stream into messages.
type frames struct {
	conn net.Conn // for its deadline; nil: there is none
	in   *bufio.Reader
}

var (
	errTooLong = fmt.Errorf("a message of more than %d bytes", maxDatagram)
	errLength  = errors.New("a length that is none")
)

// next is the next message: of a length in front of it, or up to the end of a line.
// Between messages it waits for as long as nobody closes; within one only so long.
func (f *frames) next() ([]byte, error) {
	for {
		f.within(0)
		first, err := f.in.Peek(1)
		if err != nil {
			return nil, err
		}
		f.within(patience)
		if first[0] >= '1' && first[0] <= '9' {
			return f.counted()
		}
		line, err := f.line()
		if len(bytes.TrimSpace(line)) > 0 || err != nil {
			return line, err
		}
	}
}

func (f *frames) within(d time.Duration) {
	switch {
	case f.conn == nil:
	case d == 0:
		f.conn.SetReadDeadline(time.Time{})
	default:
		f.conn.SetReadDeadline(time.Now().Add(d))
	}
}

func (f *frames) counted() ([]byte, error) {
	n := 0
	for {
		c, err := f.in.ReadByte()
		switch {
		case err != nil:
			return nil, err
		case c == ' ':
			text := make([]byte, n)
			if _, err := io.ReadFull(f.in, text); err != nil {
				return nil, err
			}
			return text, nil
		case c < '0' || c > '9':
			return nil, errLength
		}
		if n = 10*n + int(c-'0'); n > maxDatagram {
			return nil, errTooLong
		}
	}
}

func (f *frames) line() ([]byte, error) {
	var text []byte
	for {
		part, err := f.in.ReadSlice('\n')
		if text = append(text, part...); len(text) > maxDatagram {
			return nil, errTooLong
		}
		switch {
		case err == nil:
			return bytes.TrimRight(text, "\r\n"), nil
		case errors.Is(err, io.EOF) && len(bytes.TrimSpace(text)) > 0:
			return text, nil // the last one needs no end
		case !errors.Is(err, bufio.ErrBufferFull):
			return nil, err
		}
	}
}
