package model

import "ridethrough/sim/internal/face/ber"

// defaultMaxSize is the greatest message of an engine with the default options.
const defaultMaxSize = 1472

// engineGroup is of SNMP-FRAMEWORK-MIB (RFC 3411).
var engineGroup = []Variable{
	{
		Name: "snmpEngineID", Label: "Engine identifier", OID: modules(10, 2, 1, 1), Syntax: engineID,
		Description: "Identifies the card's SNMP engine; made of its serial number, under the enterprise number reserved for documentation.",
		read:        func(v *View, _ int) Value { return text(v.engineID()) },
	},
	{
		Name: "snmpEngineBoots", Label: "Engine starts", OID: modules(10, 2, 1, 2), Syntax: integer(1, maxInt32),
		Description: "How often the card's agent has started.",
		count:       func(v *View, _ int) int64 { return int64(v.Dev.Card.Boots) },
	},
	{
		Name: "snmpEngineTime", Label: "Engine time", OID: modules(10, 2, 1, 3), Syntax: integer(0, maxInt32),
		Units: "seconds", Symbol: "s",
		Description: "Seconds since the card's agent last started, by the card's clock or, if so chosen, in real time.",
		count:       func(v *View, _ int) int64 { return v.engine().Time },
	},
	{
		Name: "snmpEngineMaxMessageSize", Label: "Greatest message", OID: modules(10, 2, 1, 4), Syntax: integer(484, maxInt32),
		Units: "octets", Symbol: "octets",
		Description: "The greatest message that the agent sends and accepts.",
		count:       func(v *View, _ int) int64 { return int64(v.engine().MaxSize) },
	},
}

// mpdGroup is of SNMP-MPD-MIB (RFC 3412).
var mpdGroup = []Variable{
	countedAt(modules(11, 2, 1, 1), UnknownSecurityModels, "snmpUnknownSecurityModels", "Unknown security models",
		"Messages of SNMPv3 dropped because their security model is not the user-based one."),
	countedAt(modules(11, 2, 1, 2), InvalidMsgs, "snmpInvalidMsgs", "Contradicting messages",
		"Messages of SNMPv3 dropped because they claim privacy without authentication."),
	countedAt(modules(11, 2, 1, 3), UnknownPDUHandlers, "snmpUnknownPDUHandlers", "Requests for others",
		"Requests of SNMPv3 for another engine's objects, or of a kind that an agent does not serve."),
}

// targetGroup is the counters of SNMP-TARGET-MIB (RFC 3413); the card's
// receivers are not in that module's tables.
var targetGroup = []Variable{
	countedAt(modules(12, 1, 4), UnavailableContexts, "snmpUnavailableContexts", "Unavailable contexts",
		"Requests for a context that exists but is not available; there is none."),
	countedAt(modules(12, 1, 5), UnknownContexts, "snmpUnknownContexts", "Unknown contexts",
		"Requests for a context other than the default one, which has an empty name."),
}

// usmGroup is usmStats of SNMP-USER-BASED-SM-MIB (RFC 3414); the card's users
// are not in that module's table.
var usmGroup = []Variable{
	usmCounted(1, UnsupportedSecLevels, "usmStatsUnsupportedSecLevels", "Unsupported levels",
		"Messages dropped because the user has no keys for their security level."),
	usmCounted(2, NotInTimeWindows, "usmStatsNotInTimeWindows", "Outside the time window",
		"Authentic messages dropped because they are more than 150 s off, or from before a restart."),
	usmCounted(3, UnknownUserNames, "usmStatsUnknownUserNames", "Unknown users",
		"Messages dropped because the card has no such user."),
	usmCounted(4, UnknownEngineIDs, "usmStatsUnknownEngineIDs", "Unknown engines",
		"Messages dropped because they are for another engine or ask which this is."),
	usmCounted(5, WrongDigests, "usmStatsWrongDigests", "Wrong digests",
		"Messages dropped because their authentication is wrong."),
	usmCounted(6, DecryptionErrors, "usmStatsDecryptionErrors", "Decryption errors",
		"Messages dropped because they could not be decrypted."),
}

func usmCounted(arc uint32, k Counter, name, label, description string) Variable {
	return countedAt(modules(15, 1, 1, arc), k, name, label, description)
}

// Report is the counter that a Report about k carries, without its instance.
func Report(k Counter) ber.OID { return reported[k] }

// reported has the object of every counter that a Report may carry.
var reported = func() (oids [CounterEnd]ber.OID) {
	names := map[Counter]string{
		UnknownPDUHandlers: "snmpUnknownPDUHandlers", UnknownContexts: "snmpUnknownContexts",
		UnsupportedSecLevels: "usmStatsUnsupportedSecLevels", NotInTimeWindows: "usmStatsNotInTimeWindows",
		UnknownUserNames: "usmStatsUnknownUserNames", UnknownEngineIDs: "usmStatsUnknownEngineIDs",
		WrongDigests: "usmStatsWrongDigests", DecryptionErrors: "usmStatsDecryptionErrors",
	}
	for k, name := range names {
		oids[k] = Lookup(name).OID
	}
	return oids
}()
