package model

import "sync/atomic"

// Counter names one of the agent's counters. Of the snmp group of RFC 1213 and
// RFC 3418 it is the last arc of its object.
type Counter uint8

// Counters of the snmp group. The arcs 7, 23 and 30 are not counters.
const (
	InPkts              Counter = 1
	OutPkts             Counter = 2
	InBadVersions       Counter = 3
	InBadCommunityNames Counter = 4
	InBadCommunityUses  Counter = 5
	InASNParseErrs      Counter = 6
	InTooBigs           Counter = 8
	InNoSuchNames       Counter = 9
	InBadValues         Counter = 10
	InReadOnlys         Counter = 11
	InGenErrs           Counter = 12
	InTotalReqVars      Counter = 13
	InTotalSetVars      Counter = 14
	InGetRequests       Counter = 15
	InGetNexts          Counter = 16
	InSetRequests       Counter = 17
	InGetResponses      Counter = 18
	InTraps             Counter = 19
	OutTooBigs          Counter = 20
	OutNoSuchNames      Counter = 21
	OutBadValues        Counter = 22
	OutGenErrs          Counter = 24
	OutGetRequests      Counter = 25
	OutGetNexts         Counter = 26
	OutSetRequests      Counter = 27
	OutGetResponses     Counter = 28
	OutTraps            Counter = 29
	SilentDrops         Counter = 31
	ProxyDrops          Counter = 32

	snmpEnd Counter = 33
)

// Counters of the other groups: dispatcher (RFC 3412), contexts (RFC 3413),
// user-based security (RFC 3414), and the octets of messages (RFC 2863).
const (
	UnknownSecurityModels Counter = iota + snmpEnd
	InvalidMsgs
	UnknownPDUHandlers
	UnavailableContexts
	UnknownContexts
	UnsupportedSecLevels
	NotInTimeWindows
	UnknownUserNames
	UnknownEngineIDs
	WrongDigests
	DecryptionErrors
	InOctets
	OutOctets

	// CounterEnd is the number of counters plus one: a size for arrays by counter.
	CounterEnd
)

// Counters counts what one agent does. It is safe for concurrent use, its zero
// value is ready, and a nil one reads as zeros.
type Counters struct {
	n [CounterEnd]atomic.Uint32
}

// Add counts n more; counters wrap at 2^32.
func (c *Counters) Add(k Counter, n int) { c.n[k].Add(uint32(n)) }

// Load is the present count.
func (c *Counters) Load(k Counter) uint32 {
	if c == nil {
		return 0
	}
	return c.n[k].Load()
}

// Reset starts again at zero, as a restart of the agent does.
func (c *Counters) Reset() {
	for i := range c.n {
		c.n[i].Store(0)
	}
}
