package sim_test

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"os"
	"time"

	"github.com/gosnmp/gosnmp"
)

// Checks of the protocol and of the agent's capacity, as a correct client makes
// them.

// five are objects that every card has.
var five = []string{sysUpTime, outputSource, secondsOnBattery, ratedVoltage, alarmsPresent}

func (c *client) answers() string {
	if _, err := c.once.Get([]string{sysUpTime}); err != nil {
		return err.Error()
	}
	return ""
}

func (c *client) bulkFills() string {
	p, err := c.once.GetBulk([]string{".1.3.6.1.2.1.1"}, 0, 5)
	switch {
	case err != nil:
		return err.Error()
	case len(p.Variables) < 5:
		return fmt.Sprintf("%d variables for 5", len(p.Variables))
	}
	return ""
}

func (c *client) fiveAtOnce() string {
	p, err := c.once.Get(five)
	switch {
	case err != nil:
		return err.Error()
	case p.Error != gosnmp.NoError:
		return p.Error.String()
	}
	return ""
}

// ask sends a request and does not wait.
func (c *client) ask(oids ...string) uint32 { return c.askFrom(c.raw, oids...) }

func (c *client) askFrom(conn *net.UDPConn, oids ...string) uint32 {
	c.t.Helper()
	c.request++
	p := gosnmp.SnmpPacket{Version: gosnmp.Version2c, Community: "look", PDUType: gosnmp.GetRequest, RequestID: c.request}
	for _, oid := range oids {
		p.Variables = append(p.Variables, gosnmp.SnmpPDU{Name: oid, Type: gosnmp.Null})
	}
	out, err := p.MarshalMsg()
	if err != nil {
		c.t.Fatal(err)
	}
	if _, err := conn.WriteToUDPAddrPort(out, c.at); err != nil {
		c.t.Fatal(err)
	}
	return c.request
}

// hear is the request-id of the next reply and where it came from; 0 if there is
// none in that time.
func (c *client) hear(within time.Duration) (uint32, netip.AddrPort) {
	c.t.Helper()
	buf := make([]byte, 4096)
	c.raw.SetReadDeadline(time.Now().Add(within))
	n, from, err := c.raw.ReadFromUDPAddrPort(buf)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return 0, from
	}
	if err != nil {
		c.t.Fatal(err)
	}
	p, err := (&gosnmp.GoSNMP{}).SnmpDecodePacket(buf[:n])
	if err != nil {
		c.t.Fatal(err)
	}
	return p.RequestID, from
}

// keepsStrangersOut: who is not on the access list gets no answer, also over IPv6. That
// another one does afterwards shows that the agent has been asked.
func (c *client) keepsStrangersOut() string {
	c.askFrom(c.six, sysUpTime)
	if id := c.ask(sysUpTime); id != first(c.hear(long)) {
		return "no answer to who is on the list"
	}
	c.six.SetReadDeadline(time.Now().Add(short))
	if _, _, err := c.six.ReadFromUDPAddrPort(make([]byte, 4096)); err == nil {
		return "an answer to who is not on the list"
	}
	return ""
}

func first(id uint32, _ netip.AddrPort) uint32 { return id }

func (c *client) answersFromItsAddress() string {
	c.ask(sysUpTime)
	if _, from := c.hear(long); from != c.at {
		return fmt.Sprintf("%v answers for %v", from, c.at)
	}
	return ""
}

// answersInOrder asks three times, one right after the other. What is left of the
// third is read, so that it does not disturb who asks next.
func (c *client) answersInOrder() string {
	asked := []uint32{c.ask(sysUpTime), c.ask(outputSource), c.ask(alarmsPresent)}
	var heard []uint32
	for range asked[:2] {
		id, _ := c.hear(long)
		heard = append(heard, id)
	}
	if heard[0] == asked[0] && heard[1] == asked[1] {
		id, _ := c.hear(long)
		heard = append(heard, id)
		if id == asked[2] {
			return ""
		}
	}
	c.forget()
	return fmt.Sprintf("asked %v, heard %v", asked, heard)
}

// forget takes another port, where nothing old arrives.
func (c *client) forget() {
	c.t.Helper()
	c.raw.Close()
	c.raw = silent(c.t)
}

// answersSoon has a time-out that is short for five objects of a slow card.
func (c *client) answersSoon() string {
	asked := c.ask(five...)
	if id, _ := c.hear(c.timeout); id != asked {
		c.forget()
		return "no answer in time"
	}
	return ""
}

// takesTwo asks a second time while the first is perhaps still served, and a third
// time afterwards.
func (c *client) takesTwo() string {
	first, second := c.ask(sysUpTime), c.ask(outputSource)
	if id, _ := c.hear(long); id != first {
		return fmt.Sprintf("%d answered before %d", id, first)
	}
	third := c.ask(alarmsPresent)
	if id, _ := c.hear(long); id != second {
		c.forget()
		return fmt.Sprintf("%d was not answered, %d was", second, id)
	}
	if id, _ := c.hear(long); id != third {
		return fmt.Sprintf("%d was not answered", third)
	}
	return ""
}

func (c *client) losesNone() string {
	const many = 40
	for range many {
		c.ask(sysUpTime)
	}
	for n := range many {
		if id, _ := c.hear(c.timeout); id == 0 {
			c.forget()
			return fmt.Sprintf("%d answers to %d requests", n, many)
		}
	}
	return ""
}
