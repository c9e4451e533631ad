package batch

import "net/netip"

const (
	// slots is how many datagrams are taken at most at a time.
	slots = 16
	// datagram bounds what is read of one; a longer one is cut.
	datagram = 64 << 10
)

// Mail is one datagram that came.
type Mail struct {
	in, out []byte // out: room for the reply, then the reply
	size    int    // of what came
}

// Text is what came, good until the next [Box.Receive].
func (m *Mail) Text() []byte { return m.in[:m.size] }

// Room is where a reply may be put together.
func (m *Mail) Room() []byte { return m.out[:0] }

// box is what the boxes of all systems have in common.
type box struct {
	mail    [slots]Mail
	queued  [slots]int // the mails that have a reply, in order
	waiting int        // how many those are
}

func (b *box) init(room int) {
	for i := range b.mail {
		b.mail[i].in, b.mail[i].out = make([]byte, datagram), make([]byte, 0, room)
	}
}

// Mail is the i-th datagram of the last [Box.Receive].
func (b *box) Mail(i int) *Mail { return &b.mail[i] }

// Reply queues the reply to the i-th mail, which is not copied.
func (b *box) Reply(i int, reply []byte) {
	b.mail[i].out = reply
	b.queued[b.waiting] = i
	b.waiting++
}

var _ interface {
	Receive() (int, error)
	Peer(int) netip.AddrPort
	Mail(int) *Mail
	Reply(int, []byte)
	Flush()
	Take(*Box, int, int) int
} = (*Box)(nil)
