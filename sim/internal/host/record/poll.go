package record

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"syscall"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/host/pace"
)

// Asker is all that polling can do.
type Asker interface {
	GetNext(names []string) (*gosnmp.SnmpPacket, error)
	GetBulk(names []string, nonRepeaters uint8, maxRepetitions uint32) (*gosnmp.SnmpPacket, error)
}

// Roots are the parts of the tree that are asked for: RFC 1628 and its neighbours.
func Roots() []ber.OID {
	return []ber.OID{
		ber.MustOID("1.3.6.1.2.1.1"),      // RFC 3418 system
		ber.MustOID("1.3.6.1.2.1.2"),      // RFC 2863 interfaces
		ber.MustOID("1.3.6.1.2.1.25.1.2"), // RFC 2790 hrSystemDate
		ber.MustOID("1.3.6.1.2.1.33.1"),   // RFC 1628
		ber.MustOID("1.3.6.1.2.1.47.1.1"), // RFC 6933 entities
		ber.MustOID("1.3.6.1.2.1.99.1.1"), // RFC 3433 sensors
		ber.MustOID("1.3.6.1.6.3.10.2.1"), // RFC 3411 engine
	}
}

const (
	repetitions = 20   // that a get-bulk asks for: fits most replies
	mostObjects = 8192 // of a reading
	mostErrors  = 3    // get-bulks in a row that fail before get-next takes over
)

// poller reads a card again and again.
type poller struct {
	asker Asker
	bulk  bool
	fails int // get-bulks in a row
	pause time.Duration
	clock *pace.Clock
	next  time.Duration // when the next request may leave
	say   func(string)

	roots []ber.OID
	met   []bool // something was ever there under the root
	polls int
}

// again is how often roots that never answered are asked again, in readings.
const again = 30

// read is one reading, without its time.
func (p *poller) read(ctx context.Context) ([]bundle.Object, error) {
	var all []bundle.Object
	for i, root := range p.roots {
		if !p.met[i] && p.polls%again != 0 {
			continue
		}
		list, err := p.walk(ctx, root, mostObjects-len(all))
		if err != nil {
			return nil, err
		}
		p.met[i] = p.met[i] || len(list) > 0
		all = append(all, list...)
	}
	p.polls++
	return bundle.Sort(all), nil
}

// walk is every object under root.
func (p *poller) walk(ctx context.Context, root ber.OID, most int) ([]bundle.Object, error) {
	var list []bundle.Object
	last := root
	for {
		vars, err := p.ask(ctx, last)
		if err != nil {
			return nil, err
		}
		for _, v := range vars {
			name, err := ber.ParseOID(v.Name)
			switch {
			case err != nil, ends(v.Type), !name.HasPrefix(root):
				return list, nil
			case name.Compare(last) <= 0:
				return nil, oddly("the agent goes in circles: %s follows %s", name, last)
			case len(list) == most:
				return nil, oddly("the agent has more than %d objects", mostObjects)
			}
			last = name
			if value, ok := valueOf(&v); ok {
				list = append(list, bundle.Object{Name: name, Value: value})
			}
		}
		if len(vars) == 0 {
			return list, nil
		}
	}
}

func ends(t gosnmp.Asn1BER) bool {
	return t == gosnmp.EndOfMibView || t == gosnmp.NoSuchObject || t == gosnmp.NoSuchInstance
}

// ask is what follows name. Get-bulk is given up for good when it failed too often
// where get-next worked: some cards do not answer it, or only with errors.
func (p *poller) ask(ctx context.Context, name ber.OID) ([]gosnmp.SnmpPDU, error) {
	var bulkErr error
	if p.bulk {
		vars, err := p.askBulk(ctx, name)
		if err == nil || ctx.Err() != nil {
			p.fails = 0
			return vars, err
		}
		bulkErr = err
	}
	vars, err := p.askNext(ctx, name)
	if bulkErr == nil || err != nil {
		return vars, err
	}
	if p.fails++; p.fails == mostErrors {
		p.bulk = false
		p.say("get-bulk does not work with this agent (" + brief(bulkErr) + "): from here on get-next")
	}
	return vars, nil
}

func (p *poller) askBulk(ctx context.Context, name ber.OID) ([]gosnmp.SnmpPDU, error) {
	answer, err := p.send(ctx, func() (*gosnmp.SnmpPacket, error) {
		return p.asker.GetBulk([]string{name.String()}, 0, repetitions)
	})
	switch {
	case err != nil:
		return nil, err
	case answer.Error != gosnmp.NoError:
		return nil, oddly("the agent answers get-bulk with error-status %d", answer.Error)
	}
	return answer.Variables, nil
}

func (p *poller) askNext(ctx context.Context, name ber.OID) ([]gosnmp.SnmpPDU, error) {
	answer, err := p.send(ctx, func() (*gosnmp.SnmpPacket, error) { return p.asker.GetNext([]string{name.String()}) })
	switch {
	case err != nil:
		return nil, err
	case answer.Error == gosnmp.NoSuchName: // RFC 1157: the end
		return nil, nil
	case answer.Error != gosnmp.NoError:
		return nil, oddly("the agent answers %s with error-status %d", name, answer.Error)
	}
	return answer.Variables, nil
}

// send waits until a request may leave, and sends it.
func (p *poller) send(ctx context.Context, request func() (*gosnmp.SnmpPacket, error)) (*gosnmp.SnmpPacket, error) {
	if wait := p.next - p.clock.Elapsed(); wait > 0 {
		timer := time.NewTimer(wait)
		defer timer.Stop()
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-timer.C:
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	p.next = p.clock.Elapsed() + p.pause
	return request()
}

// brief is an error without what differs from one time to the next, and without
// addresses: it stands in the bundle.
func brief(err error) string {
	var network net.Error
	var operation *net.OpError
	var system syscall.Errno
	switch {
	case errors.Is(err, gosnmp.ErrMaxRetriesExceeded), errors.As(err, &network) && network.Timeout():
		return "no answer"
	case strings.Contains(err.Error(), "not authentic"): // gosnmp has no better name for it
		return "the agent does not know the user, or has another authentication password or protocol"
	case errors.As(err, &system):
		return "no answer: " + system.Error()
	case errors.As(err, &operation):
		return "no answer: " + operation.Op + " fails"
	case errors.Is(err, gosnmp.ErrUnknownUsername):
		return "the agent does not know the user"
	case errors.Is(err, gosnmp.ErrWrongDigest):
		return "the agent has another authentication password or protocol"
	case errors.Is(err, gosnmp.ErrDecryption):
		return "the agent has another privacy password or protocol"
	case errors.Is(err, gosnmp.ErrUnknownSecurityLevel):
		return "the agent does not allow the security level"
	}
	var odd *oddAgent
	if errors.As(err, &odd) {
		return odd.text
	}
	return "an answer that cannot be read"
}

// oddAgent is an agent that answers otherwise than it should.
type oddAgent struct{ text string }

func (e *oddAgent) Error() string { return e.text }

func oddly(format string, args ...any) error { return &oddAgent{fmt.Sprintf(format, args...)} }
