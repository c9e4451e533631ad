package timeclient

import (
	"context"
	"errors"
	"net"
	"time"

	"github.com/beevik/ntp"

	"ridethrough/sim/internal/core/snap"
)

// waits is how long a server may take, whatever the pace: less than the card waits
// at real time.
const waits = 4 * time.Second

// Query asks the server at endpoint. Its date is that of when its answer came in.
func Query(ctx context.Context, endpoint string) snap.TimeReply {
	dial := func(_, remote string) (net.Conn, error) {
		conn, err := (&net.Dialer{}).DialContext(ctx, "udp", remote)
		if err == nil {
			context.AfterFunc(ctx, func() { conn.Close() }) // nobody waits for a lost answer at the end
		}
		return conn, err
	}
	r, err := ntp.QueryWithOptions(endpoint, ntp.QueryOptions{Timeout: waits, Dialer: dial})
	switch {
	case err != nil:
		return snap.TimeReply{Failed: reasonOf(err)}
	case r.KissCode != "":
		return snap.TimeReply{Failed: "it refuses to answer (" + snap.Printable(r.KissCode) + ")"}
	case r.Leap == ntp.LeapNotInSync:
		return snap.TimeReply{Date: snap.StampOf(r.Time), Stratum: 16}
	}
	return snap.TimeReply{Date: snap.StampOf(r.Time.Add(r.RTT / 2)), Stratum: int(r.Stratum)}
}

// reasonOf is err without addresses of this machine, which mean nothing on the card.
func reasonOf(err error) string {
	var op *net.OpError
	if ne, ok := err.(net.Error); ok && ne.Timeout() {
		return "no answer"
	}
	if errors.As(err, &op) {
		return "no answer: " + op.Err.Error()
	}
	return snap.Printable(err.Error())
}
