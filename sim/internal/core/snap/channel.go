package snap

// Channel is what an order to stop meets on its way to a host.
type Channel uint8

// Channels.
const (
	ChannelWorks   Channel = iota // the host takes the order and stops
	ChannelRefuses                // nobody takes the connection
	ChannelRejects                // whoever gives the order is not let in
	ChannelIgnores                // the order is accepted, and nothing comes of it
	ChannelExpired                // the certificate has expired: whoever gives the order does not go on
)

// String is a word for c.
func (c Channel) String() string {
	return nameOf([]string{"works", "refuses", "rejects-credentials", "accepts-and-does-nothing", "certificate-expired"}, int(c))
}

// ChannelByName is the channel of that name, the one that works without such a name.
func ChannelByName(name string) Channel {
	for c := ChannelWorks; c <= ChannelExpired; c++ {
		if c.String() == name {
			return c
		}
	}
	return ChannelWorks
}

// Tells says whether whoever gives an order learns that it came to nothing.
func (c Channel) Tells() bool {
	return c == ChannelRefuses || c == ChannelRejects || c == ChannelExpired
}
