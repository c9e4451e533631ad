package serve

import (
	"errors"
	"net"
	"net/netip"
	"testing"
)

// TestNoFrontComesTooLate: what is bound while the session closes is closed, and its
// readers with it: nobody else would, and the session waits for them.
func TestNoFrontComesTooLate(t *testing.T) {
	var all fronts
	open := func() *front {
		f, err := all.openAt(t.Context(), netip.MustParseAddr("127.0.0.1"), func(string) {})
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	early := open()
	if !all.add(early) {
		t.Fatal("the session is open")
	}
	all.close()
	late := open()
	if all.add(late) || all.has(late.at) {
		t.Error("a front was taken in after the end")
	}
	for name, f := range map[string]*front{"early": early, "late": late} {
		if _, _, err := f.udp.ReadFromUDPAddrPort(make([]byte, 1)); !errors.Is(err, net.ErrClosed) {
			t.Errorf("%s: SNMP is open: %v", name, err)
		}
		if _, err := f.ssh.Accept(); !errors.Is(err, net.ErrClosed) {
			t.Errorf("%s: SSH is open: %v", name, err)
		}
	}
}
