package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

var snmpGroup = []Variable{
	counted(InPkts, "snmpInPkts", "Messages received", "Messages that arrived while the agent was answering."),
	counted(OutPkts, "snmpOutPkts", "Messages sent", "Replies and notifications handed to the network."),
	counted(InBadVersions, "snmpInBadVersions", "Unsupported versions", "Messages of an SNMP version that the agent does not speak."),
	counted(InBadCommunityNames, "snmpInBadCommunityNames", "Unknown communities", "Messages whose community opens nothing."),
	counted(InBadCommunityUses, "snmpInBadCommunityUses", "Forbidden operations", "Messages whose community does not allow the operation."),
	counted(InASNParseErrs, "snmpInASNParseErrs", "Malformed messages", "Messages that could not be decoded."),
	counted(InTooBigs, "snmpInTooBigs", "Received tooBig", "Error replies of this kind received; an agent asks nobody."),
	counted(InNoSuchNames, "snmpInNoSuchNames", "Received noSuchName", "Error replies of this kind received; an agent asks nobody."),
	counted(InBadValues, "snmpInBadValues", "Received badValue", "Error replies of this kind received; an agent asks nobody."),
	counted(InReadOnlys, "snmpInReadOnlys", "Received readOnly", "Error replies of this kind received; an agent asks nobody."),
	counted(InGenErrs, "snmpInGenErrs", "Received genErr", "Error replies of this kind received; an agent asks nobody."),
	counted(InTotalReqVars, "snmpInTotalReqVars", "Variables read", "Variables returned by successful reads."),
	counted(InTotalSetVars, "snmpInTotalSetVars", "Variables written", "Variables changed by successful writes."),
	counted(InGetRequests, "snmpInGetRequests", "Get requests", "Get requests processed."),
	counted(InGetNexts, "snmpInGetNexts", "Get-next requests", "Get-next requests processed."),
	counted(InSetRequests, "snmpInSetRequests", "Set requests", "Set requests processed."),
	counted(InGetResponses, "snmpInGetResponses", "Responses received", "Responses received and dropped."),
	counted(InTraps, "snmpInTraps", "Traps received", "Notifications received and dropped."),
	counted(OutTooBigs, "snmpOutTooBigs", "Sent tooBig", "Replies saying that the answer would not fit."),
	counted(OutNoSuchNames, "snmpOutNoSuchNames", "Sent noSuchName", "Replies saying that a name is unknown (SNMPv1)."),
	counted(OutBadValues, "snmpOutBadValues", "Sent badValue", "Replies saying that a value is not acceptable (SNMPv1)."),
	counted(OutGenErrs, "snmpOutGenErrs", "Sent genErr", "Replies saying that something else went wrong."),
	counted(OutGetRequests, "snmpOutGetRequests", "Get requests sent", "An agent sends none."),
	counted(OutGetNexts, "snmpOutGetNexts", "Get-next requests sent", "An agent sends none."),
	counted(OutSetRequests, "snmpOutSetRequests", "Set requests sent", "An agent sends none."),
	counted(OutGetResponses, "snmpOutGetResponses", "Responses sent", "Replies of any kind sent."),
	counted(OutTraps, "snmpOutTraps", "Notifications sent", "Notifications sent, once for each receiver."),
	{
		Name: "snmpEnableAuthenTraps", Label: "Report wrong communities", OID: snmp(30),
		Syntax: enum("enabled", "yes", "disabled", "no"), Access: ReadWrite,
		Description: "Whether a request with a wrong community causes a notification.",
		read:        func(v *View, _ int) Value { return truth(v.Dev.Card.AuthenTraps) },
	},
	counted(SilentDrops, "snmpSilentDrops", "Requests dropped", "Requests dropped because not even an empty reply would have fitted."),
	counted(ProxyDrops, "snmpProxyDrops", "Proxy drops", "An agent forwards nothing."),
}

// counted is the variable of the snmp group that shows counter k.
func counted(k Counter, name, label, description string) Variable {
	return countedAt(snmp(uint32(k)), k, name, label, description)
}

// countedAt is the variable that shows counter k.
func countedAt(oid ber.OID, k Counter, name, label, description string) Variable {
	return Variable{
		Name: name, Label: label, OID: oid, Syntax: counter32, Description: description,
		count: func(v *View, _ int) int64 { return int64(v.Counters.Load(k) + v.Dev.Card.USM.Of(modelled[k])) },
	}
}

// FaultOf is what is wrong with a manager whose request counter k counts, or USMOpen.
func FaultOf(k Counter) snap.USMFault { return modelled[k] }

// modelled is what managers that are modelled are refused for: no message of theirs
// comes to the agent.
var modelled = [CounterEnd]snap.USMFault{
	UnsupportedSecLevels: snap.USMUnsupportedLevel, UnknownUserNames: snap.USMUnknownUser,
	WrongDigests: snap.USMWrongDigest, DecryptionErrors: snap.USMNotDecrypted, InASNParseErrs: snap.USMGarbled,
}

var setGroup = []Variable{
	{
		Name: "snmpSetSerialNo", Label: "Set serial number", OID: ber.OID{1, 3, 6, 1, 6, 3, 1, 1, 6, 1},
		Syntax: testAndIncr, Access: ReadWrite,
		Description: "Lock by which managers order their writes: a write must give the present number, which then rises by one.",
		count:       func(v *View, _ int) int64 { return int64(v.Dev.Card.SetSerialNo) },
	},
}
