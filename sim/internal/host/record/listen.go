package record

import (
	"context"
	"fmt"
	"net"
	"sync/atomic"
	"time"

	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/host/pace"
)

// waiting bounds the notifications that came and are not written yet.
const waiting = 256

// listener hears the notifications of one card.
type listener struct {
	conn    net.PacketConn
	from    map[string]bool // addresses of the card
	clock   *pace.Clock
	ear     ear
	heard   chan bundle.Notice
	strange atomic.Int64 // datagrams of others, or that are none of ours
	lost    atomic.Int64 // for which there was no room
}

func listen(ctx context.Context, at, agent string, clock *pace.Clock, login *Login) (*listener, error) {
	host, _, err := net.SplitHostPort(agent)
	if err != nil {
		return nil, err
	}
	addresses, err := net.DefaultResolver.LookupHost(ctx, host)
	if err != nil {
		return nil, err
	}
	conn, err := new(net.ListenConfig).ListenPacket(ctx, "udp", at)
	if err != nil {
		return nil, err
	}
	l := &listener{conn: conn, clock: clock, from: map[string]bool{}, heard: make(chan bundle.Notice, waiting)}
	for _, a := range addresses {
		l.from[a] = true
	}
	if login.Version == "3" {
		l.ear = newEar(login.User, fmt.Sprintf("recorder %d", time.Now().UnixNano()))
	}
	return l, nil
}

// run hears until the socket is closed.
func (l *listener) run() {
	buffer := make([]byte, 1<<16)
	for {
		n, peer, err := l.conn.ReadFrom(buffer)
		if err != nil {
			return
		}
		at := l.clock.Elapsed()
		if host, _, err := net.SplitHostPort(peer.String()); err != nil || !l.from[host] {
			l.strange.Add(1)
			continue
		}
		notice, answer, ok := l.ear.hear(buffer[:n], int32(at/time.Second))
		if !ok {
			if answer != nil { // the question before an inform is no notification, and nothing strange
				l.conn.WriteTo(answer, peer)
			} else {
				l.strange.Add(1)
			}
			continue
		}
		notice.At, notice.Peer = at, peer.String()
		select {
		case l.heard <- notice:
			if answer != nil {
				l.conn.WriteTo(answer, peer) // if it is lost the card asks again
			}
		default:
			l.lost.Add(1)
		}
	}
}
