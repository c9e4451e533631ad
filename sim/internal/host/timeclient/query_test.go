package timeclient

import (
	"context"
	"encoding/binary"
	"net"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
)

// server answers each question with what reply makes of it, on loopback.
func server(t *testing.T, reply func(question []byte) []byte) string {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	go func() {
		b := make([]byte, 1024)
		for {
			n, from, err := conn.ReadFrom(b)
			if err != nil {
				return
			}
			if out := reply(b[:n]); out != nil {
				conn.WriteTo(out, from)
			}
		}
	}()
	return conn.LocalAddr().String()
}

// era is the origin of NTP's dates (RFC 5905): 1900.
var era = time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC)

// packet is an answer of a server (mode 4 of version 4) whose clock shows date.
func packet(question []byte, leap, stratum byte, date time.Time, code string) []byte {
	out := make([]byte, 48)
	out[0], out[1] = leap<<6|4<<3|4, stratum
	copy(out[12:16], code)
	copy(out[24:32], question[40:48]) // origin: what the client has sent
	for _, at := range []int{16, 32, 40} {
		binary.BigEndian.PutUint32(out[at:], uint32(date.Unix()-era.Unix()))
	}
	return out
}

// TestQuery: what servers of RFC 5905 answer, and what is no answer.
func TestQuery(t *testing.T) {
	date := time.Date(2026, 6, 16, 8, 0, 0, 0, time.UTC)
	for name, row := range map[string]struct {
		reply func(q []byte) []byte
		want  string // of the failure; "": none
		strat int
	}{
		"good":           {func(q []byte) []byte { return packet(q, 0, 3, date, "") }, "", 3},
		"unsynchronised": {func(q []byte) []byte { return packet(q, 3, 16, date, "") }, "", 16},
		"go away":        {func(q []byte) []byte { return packet(q, 0, 0, date, "RATE") }, "refuses", 0},
		"go \x1baway":    {func(q []byte) []byte { return packet(q, 0, 0, date, "\x1b[2J") }, "", 0}, // no word: the card rejects stratum 0
		"short":          {func(q []byte) []byte { return packet(q, 0, 3, date, "")[:20] }, " ", 0},
		"of another":     {func(q []byte) []byte { return packet(make([]byte, 48), 0, 3, date, "") }, " ", 0},
	} {
		t.Run(name, func(t *testing.T) {
			r := Query(context.Background(), server(t, row.reply))
			if (row.want == "") != (r.Failed == "") || !strings.Contains(r.Failed, row.want) || strings.Contains(r.Failed, "\x1b") {
				t.Fatalf("%+v", r)
			}
			if off := r.Date - snap.StampOf(date); row.want == "" && (r.Stratum != row.strat || off < -1 || off > 2000) {
				t.Errorf("%+v, %d ms off", r, off)
			}
		})
	}
}

// TestNobodyThere: a closed port is told at once; at the end nobody waits.
func TestNobodyThere(t *testing.T) {
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := conn.LocalAddr().String()
	conn.Close()
	if r := Query(context.Background(), at); !strings.HasPrefix(r.Failed, "no answer") || strings.Contains(r.Failed, "127.0.0.1") {
		t.Errorf("%+v", r)
	}
	ctx, stop := context.WithCancel(context.Background())
	asked := make(chan struct{}, 1)
	silent := server(t, func([]byte) []byte { asked <- struct{}{}; return nil })
	go func() { <-asked; stop() }()
	if r := Query(ctx, silent); r.Failed == "" {
		t.Errorf("%+v", r)
	}
}
