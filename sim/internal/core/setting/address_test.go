package setting

import (
	"encoding/binary"
	"net/netip"
	"strings"
	"testing"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
)

func TestParseMask(t *testing.T) {
	for _, c := range []struct {
		in     string
		bits   int
		reason string // part of the refusal; empty: accepted
	}{
		{"/24", 24, ""}, {"24", 24, ""}, {" / 8", 8, ""}, {"0", 0, ""}, {"32", 32, ""},
		{"255.255.255.0", 24, ""}, {"255.255.255.252", 30, ""}, {"128.0.0.0", 1, ""},
		{"0.0.0.0", 0, ""}, {"255.255.255.255", 32, ""}, {"/255.255.0.0", 16, ""},
		{"33", 0, "is not a mask"}, {"-1", 0, "is not a mask"}, {"+24", 0, "is not a mask"},
		{"", 0, "is not a mask"}, {"none", 0, "is not a mask"}, {"//24", 0, "is not a mask"},
		{"255.255.255", 0, "four numbers"}, {"255.255.255.256", 0, "four numbers"},
		{"255.0.255.0", 0, "not all on the left"}, {"255.255.255.1", 0, "not all on the left"},
		{"0.0.0.255", 0, "did you mean 255.255.255.0"}, {"0.0.3.255", 0, "did you mean 255.255.252.0"},
	} {
		bits, err := ParseMask(c.in)
		check(t, "ParseMask("+c.in+")", err, c.reason)
		if err == nil && bits != c.bits {
			t.Errorf("ParseMask(%q) = %d, want %d", c.in, bits, c.bits)
		}
	}
}

func TestCheckHost(t *testing.T) {
	for _, c := range []struct{ in, reason string }{
		{"192.0.2.1/24", ""}, {"192.0.2.254/24", ""}, {"198.51.100.5/30", ""},
		{"192.0.2.0/31", ""}, {"192.0.2.1/31", ""}, // RFC 3021
		{"192.0.2.0/16", ""}, // a host of 192.0.0.0/16
		{"203.0.113.7/1", ""},
		{"192.0.2.0/24", "the network itself: choose one from 192.0.2.1 to 192.0.2.254"},
		{"192.0.2.255/24", "broadcast"},
		{"198.51.100.4/30", "choose one from 198.51.100.5 to 198.51.100.6"},
		{"198.51.100.7/30", "broadcast"},
		{"192.0.2.9/32", "makes no network"}, {"192.0.2.9/0", "makes no network"},
		{"0.0.0.0/8", "this network"}, {"0.1.2.3/8", "this network"}, // RFC 1122, 3.2.1.3
		{"127.0.0.1/8", "loopback"}, {"127.9.9.9/24", "loopback"}, // RFC 1122, 3.2.1.3
		{"224.0.0.1/24", "multicast"}, {"239.255.0.1/16", "multicast"}, // RFC 5771
		{"240.0.0.1/24", "reserved"}, {"255.255.255.255/24", "reserved"}, // RFC 1112, section 4
	} {
		check(t, c.in, CheckHost(netip.MustParsePrefix(c.in)), c.reason)
	}
}

func TestCheckGateway(t *testing.T) {
	own := netip.MustParsePrefix("192.0.2.10/25")
	for _, c := range []struct{ in, reason string }{
		{"192.0.2.1", ""}, {"192.0.2.126", ""},
		{"192.0.2.10", "own address"},
		{"192.0.2.129", "outside the card's network 192.0.2.0/25"},
		{"198.51.100.1", "outside"},
		{"192.0.2.0", "the network itself"}, {"192.0.2.127", "broadcast"},
	} {
		check(t, c.in, CheckGateway(own, netip.MustParseAddr(c.in)), c.reason)
	}
	check(t, "none", CheckGateway(own, netip.Addr{}), "")
	check(t, "/31", CheckGateway(netip.MustParsePrefix("192.0.2.0/31"), netip.MustParseAddr("192.0.2.1")), "")
}

func check(t *testing.T, what string, err error, reason string) {
	t.Helper()
	switch {
	case err == nil && reason != "":
		t.Errorf("%s: accepted, want a refusal with %q", what, reason)
	case err != nil && (reason == "" || !strings.Contains(err.Error(), reason)):
		t.Errorf("%s: %v, want %q", what, err, reason)
	}
}

// TestMasksAgree holds the bit tricks against a walk over the 32 bits.
func TestMasksAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.OneOf(rapid.Uint32(), rapid.Map(rapid.IntRange(0, 32), func(n int) uint32 { return uint32(uint64(1)<<32 - uint64(1)<<n) })).Draw(t, "mask")
		ones, valid := 0, true
		for i := 31; i >= 0; i-- {
			switch one := x>>i&1 == 1; {
			case one && ones == 31-i:
				ones++
			case one:
				valid = false
			}
		}
		bits, err := ParseMask(dotted(x).String())
		if (err == nil) != valid || err == nil && bits != ones {
			t.Fatalf("%s: %d, %v; want %d, valid %v", dotted(x), bits, err, ones, valid)
		}
	})
}

// TestEndsAreTheOnlyOnesRefused walks whole small networks.
func TestEndsAreTheOnlyOnesRefused(t *testing.T) {
	for bits := 24; bits <= 30; bits++ {
		size := uint32(1) << (32 - bits)
		for i := range size {
			var b [4]byte
			binary.BigEndian.PutUint32(b[:], 0xc0000200+i) // 192.0.2.0
			err := CheckHost(netip.PrefixFrom(netip.AddrFrom4(b), bits))
			if end := i == 0 || i == size-1; (err != nil) != end {
				t.Errorf("/%d host %d: %v", bits, i, err)
			}
		}
	}
}
