package snmp

import (
	"bytes"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// again hands the agent a fresh copy of a message each time, which it may spoil.
type again struct{ message, buffer []byte }

func (a *again) next() []byte {
	a.buffer = append(a.buffer[:0], a.message...)
	return a.buffer
}

func benchmark3(b *testing.B, u snap.User, r req) {
	a, out := New(secured(u), Config{}), make([]byte, 0, DefaultMaxSize)
	request := again{message: right(u).encode(r.pdu())}
	b.ReportAllocs()
	for b.Loop() {
		out = a.Handle(request.next(), "", out)
	}
	if len(out) == 0 {
		b.Fatal("silence")
	}
	b.ReportMetric(float64(len(out)), "octets")
}

var (
	getDescr = req{kind: ber.GetRequest, names: []string{sysDescr}}
	bulk30   = req{kind: ber.GetBulkRequest, b: 30, names: []string{"1.3.6.1.2.1.11"}}
)

func BenchmarkGetPlainV3(b *testing.B) {
	benchmark3(b, combo(snap.AuthNone, snap.PrivNone), getDescr)
}
func BenchmarkGetSHA1AES(b *testing.B) {
	benchmark3(b, combo(snap.AuthSHA1, snap.PrivAES128), getDescr)
}
func BenchmarkGetSHA512AES256(b *testing.B) {
	benchmark3(b, combo(snap.AuthSHA512, snap.PrivAES256Blumenthal), getDescr)
}
func BenchmarkGetMD5DES(b *testing.B) { benchmark3(b, combo(snap.AuthMD5, snap.PrivDES), getDescr) }
func BenchmarkGetBulk30SHA1AES(b *testing.B) {
	benchmark3(b, combo(snap.AuthSHA1, snap.PrivAES128), bulk30)
}

// TestSealedReadsAllocateLittle bounds what encryption and authentication cost.
func TestSealedReadsAllocateLittle(t *testing.T) {
	if raceEnabled {
		t.Skip("the race detector makes pools forget")
	}
	for _, u := range combos() {
		a, out := New(secured(u), Config{}), make([]byte, 0, DefaultMaxSize)
		request := again{message: right(u).encode(getDescr.pdu())}
		if n := testing.AllocsPerRun(100, func() { out = a.Handle(request.next(), "", out) }); n > 4 || len(out) == 0 {
			t.Errorf("%s allocates %v times", u.Name, n)
		}
	}
}

// fuzzUsers are one user for each kind of cipher.
var fuzzUsers = []snap.User{
	combo(snap.AuthNone, snap.PrivNone), combo(snap.AuthSHA1, snap.PrivNone),
	combo(snap.AuthMD5, snap.PrivDES), combo(snap.AuthSHA256, snap.PrivAES256Blumenthal),
}

// FuzzSealed puts any bytes as a PDU under each protection, so that they get past
// the keys: nothing panics, and every answer opens with the same keys.
func FuzzSealed(f *testing.F) {
	for i := range fuzzUsers {
		f.Add(uint8(i), get3.pdu())
		f.Add(uint8(i), bulk30.pdu())
		f.Add(uint8(i), write(ber.V2c, "", "sysName", str("x")).pdu())
		f.Add(uint8(i), []byte{})
	}
	source := secured(fuzzUsers...)
	a := New(source, Config{})
	f.Fuzz(func(t *testing.T, which uint8, pdu []byte) {
		m := right(fuzzUsers[int(which)%len(fuzzUsers)])
		message := m.encode(pdu)
		if len(message) > 60000 {
			return
		}
		reply := a.Handle(message, "", nil)
		source.submitted()
		if len(reply) == 0 {
			return
		}
		if answer := m.open(t, reply); answer.size > DefaultMaxSize || answer.pdu.Type != ber.Response && answer.pdu.Type != ber.Report {
			t.Fatalf("%d octets, %#x", answer.size, byte(answer.pdu.Type))
		}
	})
}

// FuzzMessage3 puts any bytes to an agent that speaks SNMPv3.
func FuzzMessage3(f *testing.F) {
	for _, u := range fuzzUsers {
		f.Add(right(u).encode(get3.pdu()))
	}
	f.Add(manager{maxSize: 1472}.encode(get3.pdu()))
	source := secured(fuzzUsers...)
	a := New(source, Config{})
	f.Fuzz(func(t *testing.T, b []byte) {
		reply := a.Handle(bytes.Clone(b), "", nil)
		source.submitted()
		if len(reply) == 0 {
			return
		}
		var asked, got ber.V3Message
		if asked.Decode(b) != nil {
			return // of another version
		}
		if err := got.Decode(reply); err != nil || got.ID != asked.ID || len(reply) > DefaultMaxSize {
			t.Fatalf("%x to %x: %v", reply, b, err)
		}
	})
}
