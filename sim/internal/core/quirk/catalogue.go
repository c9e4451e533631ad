package quirk

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var (
	everything = func() []string {
		var names []string
		for _, o := range snap.Objects() {
			names = append(names, o.Name)
		}
		return names
	}()
	anyInt = Range{Min: math.MinInt32, Max: math.MaxInt32}
	always = Range{Default: 100, Min: 0.1, Max: 100} // percent of the replies
)

const fieldPractice = "common practice"

var catalogue = []Entry{
	{
		Kind: snap.QuirkScaledUp, Family: Values, Objects: Numbers, DefaultObjects: []string{"upsBatteryVoltage"}, ShowsUnit: true,
		Does:   "Numbers come ten times too large, as if the unit of the object were a tenth of the standard's.",
		Client: "Compares with what the unit is rated for and with the reading before; distrusts a value that is off by ten and says so, instead of acting on it.",
		Source: "RFC 1628 gives the units; readings wrong by ten after an update of a card: " + fieldPractice,
	},
	{
		Kind: snap.QuirkScaledDown, Family: Values, Objects: Numbers, DefaultObjects: []string{"upsBatteryVoltage"}, ShowsUnit: true,
		Does:   "Numbers come ten times too small, rounded towards zero.",
		Client: "As for scaled-up: a tenth of the charge or the runtime from one reading to the next is no reason to shut down.",
		Source: "RFC 1628 gives the units; readings wrong by ten after an update of a card: " + fieldPractice,
	},
	{
		Kind: snap.QuirkRuntimeInSeconds, Family: Values, ShowsUnit: true,
		Does:   "upsEstimatedMinutesRemaining counts seconds.",
		Client: "Reads minutes, as the standard has it, unless told otherwise for this card, and has a limit on time beside the one on runtime: minutes that are too many by sixty never get low.",
		Source: "RFC 1628 upsEstimatedMinutesRemaining, in minutes; " + fieldPractice,
	},
	{
		Kind: snap.QuirkRuntimeZero, Family: Values, ShowsUnit: true,
		Does:   "upsEstimatedMinutesRemaining reads 0.",
		Client: "Takes a value below 1 as unknown and falls back on charge and time.",
		Source: "RFC 1628 upsEstimatedMinutesRemaining is a PositiveInteger: 0 is not one of its values",
	},
	{
		Kind: snap.QuirkRuntimeMinusOne, Family: Values, ShowsUnit: true,
		Does:   "upsEstimatedMinutesRemaining reads -1.",
		Client: "As for runtime-zero; and never shows it as four thousand million minutes.",
		Source: "RFC 1628 upsEstimatedMinutesRemaining is a PositiveInteger",
	},
	{
		Kind: snap.QuirkConstant, Family: Values, Objects: Numbers, DefaultObjects: []string{snap.ObjectRuntime},
		Value: Range{Default: math.MaxInt32, Min: anyInt.Min, Max: anyInt.Max}, ShowsUnit: true,
		Does:   "Numbers are always the same one, whatever the unit does.",
		Client: "Checks a limit on runtime or charge against a limit on time: on battery a figure that never falls is none.",
		Source: fieldPractice,
	},
	{
		Kind: snap.QuirkFrozen, Family: Values, Objects: AnyObjects, DefaultObjects: everything, ShowsUnit: true,
		Does:   "Objects stay as they were when the quirk came into force, while the card itself and its notifications go on.",
		Client: "Notices that counters of time stand still while sysUpTime does not, or that a notification says otherwise; marks the readings as old, and does not take them for mains.",
		Source: "RFC 1628 has upsAlarmCommunicationsLost for a card that notices; cards that do not: " + fieldPractice,
	},
	{
		Kind: snap.QuirkStale, Family: Values, Objects: AnyObjects, DefaultObjects: everything,
		Lasts: Span{30 * vtime.Second, vtime.Second, vtime.Hour}, ShowsUnit: true,
		Does:   "Objects are as they were some time ago, to a sixtieth of that time or one second.",
		Client: "Reckons the delay into its limits: a notification may tell what a reading does not show yet.",
		Source: fieldPractice,
	},
	{
		Kind: snap.QuirkAbsent, Family: Values, Objects: AnyObjects, ShowsUnit: true,
		Does:   "The agent does not have the objects: noSuchObject, in SNMPv1 noSuchName for the whole request.",
		Client: "Works on with what is there; in SNMPv1 it asks again without the object that error-index names. Absent is unknown, not 0.",
		Source: "RFC 1628 compliance: only the full level has all objects; RFC 3416 section 4.2.1, RFC 1157 section 4.1.2",
	},
	{
		Kind: snap.QuirkZeroPhaseRows, Family: Values, Count: Range{Default: 3, Min: 1, Max: 3},
		Does:   "The tables of lines have rows for lines that the unit does not have, all of zeros; the number of lines beside the table is right.",
		Client: "Goes by upsInputNumLines, upsOutputNumLines and upsBypassNumLines, and raises no alarm for a line that is not there.",
		Source: "RFC 1628: the number of rows is the value of the NumLines object; " + fieldPractice,
	},
	{
		Kind: snap.QuirkPaddedAlarms, Family: Values, Count: Range{Default: 8, Min: 1, Max: 64},
		Does:   "The alarm table always has at least so many rows; those beyond the conditions that are present name the condition 0.0, since 0.",
		Client: "Takes a row for an alarm only if its description names one, and believes upsAlarmsPresent.",
		Source: "RFC 1628 upsAlarmTable: a row for each condition that is present; " + fieldPractice,
	},
	{
		Kind: snap.QuirkUnlistedAlarms, Family: Values, Alarms: true, ShowsUnit: true,
		Does:   "Conditions never show in the alarm table, nor in notifications of it.",
		Client: "Reads the object that tells the same: upsTestResultsSummary for a failed test, upsBatteryStatus for a low battery, upsOutputSource for battery operation.",
		Source: "RFC 1628 upsAlarmTable; " + fieldPractice,
	},
	{
		Kind: snap.QuirkUnknownCode, Family: Values, Objects: Codes, DefaultObjects: []string{"upsOutputSource"},
		Value: Range{Min: 0, Max: math.MaxInt32}, ShowsUnit: true,
		Does:   "Enumerations have a value that the standard does not list: the given one, or by default one above the highest.",
		Client: "Takes an unknown code for unknown: neither for mains nor for battery. What was known before holds.",
		Source: "RFC 1628 upsOutputSource has the values 1 to 7; " + fieldPractice,
	},
	{
		Kind: snap.QuirkFahrenheit, Family: Values,
		Does:   "Temperatures of probes come in degrees Fahrenheit over SNMP where the object is in degrees Celsius, as if the unit for people were that of the object. States, limits and the menu are right.",
		Client: "Holds a reading against the card's own limits and state, and against the reading before: one that is beyond a critical limit while the probe is normal, or that has turned from x to 1.8 x + 32 at once, is in another unit. It says so, and stops nobody because of it.",
		Source: "RFC 3433 EntitySensorDataType: celsius(8) is degrees Celsius, there is no code for Fahrenheit; " + fieldPractice,
	},
	{
		Kind: snap.QuirkUptimeStepsBack, Family: Values, Percent: Range{Default: 25, Min: 0.1, Max: 100}, Lasts: Span{vtime.Minute, vtime.Second, 24 * vtime.Hour},
		Does:   "Some answers give a sysUpTime that is earlier by up to the given time, although nothing has restarted.",
		Client: "Takes it for a restart only if snmpEngineBoots rose or a coldStart came; computes no rates across it.",
		Source: "RFC 3418 sysUpTime is the time since the management part was last re-initialised",
	},
	{
		Kind: snap.QuirkUptimeNearWrap, Family: Values, Lasts: Span{vtime.Minute, vtime.Second, 497 * 24 * vtime.Hour},
		Does:   "sysUpTime, and time stamps that are counted in it, wrap to 0 after the given time, as they do every 497 days.",
		Client: "Knows the wrap from a restart: the value before was near 2^32 hundredths, the difference modulo 2^32 is the time that went by, and snmpEngineBoots is as before.",
		Source: "RFC 2578 section 7.1.8 TimeTicks; RFC 3411 snmpEngineTime does not wrap so",
	},

	{
		Kind: snap.QuirkNoBulk, Family: Protocol,
		Does:   "Get-bulk requests get no answer.",
		Client: "Falls back to get-next after its time-outs and keeps to it for this card.",
		Source: "RFC 3416 section 4.2.3 asks for an answer; " + fieldPractice,
	},
	{
		Kind: snap.QuirkOneRowBulk, Family: Protocol,
		Does:   "Get-bulk requests are answered as if max-repetitions were 1.",
		Client: "Goes on from the last name that it got, however few there were.",
		Source: "RFC 3416 section 4.2.3 allows fewer variables than asked for",
	},
	{
		Kind: snap.QuirkTooBigAbove, Family: Protocol, Count: Range{Default: 4, Min: 1, Max: 1000},
		Does:   "Requests for more variables than the limit are answered with tooBig, however short the answer would be.",
		Client: "Asks again for fewer at a time.",
		Source: "RFC 3416 section 4.2.1 tooBig; " + fieldPractice,
	},
	{
		Kind: snap.QuirkSilentAbove, Family: Protocol, Count: Range{Default: 4, Min: 1, Max: 1000},
		Does:   "Requests for more variables than the limit get no answer.",
		Client: "After its time-outs asks for fewer at a time before it gives the card up.",
		Source: fieldPractice,
	},
	{
		Kind: snap.QuirkTruncated, Family: Protocol, Percent: always,
		Does:   "Replies are cut off somewhere.",
		Client: "Drops what it cannot decode and repeats the request; takes nothing from the part that came.",
		Source: "RFC 3412 section 7.2: what does not parse is discarded",
	},
	{
		Kind: snap.QuirkMalformed, Family: Protocol, Percent: always,
		Does:   "Replies are no BER: a wrong first octet, a length beyond the end, or a version that is no INTEGER.",
		Client: "Drops them without harm and repeats the request.",
		Source: "RFC 3412 section 7.2: what does not parse is discarded",
	},
	{
		Kind: snap.QuirkWrongRequestID, Family: Protocol, Percent: always,
		Does:   "Replies carry another request-id than the request.",
		Client: "Does not take the reply for the answer to its request, and repeats that.",
		Source: "RFC 3416 section 4.2: a response has the request-id of its request",
	},
	{
		Kind: snap.QuirkWrongSource, Family: Protocol, Percent: always,
		Does:   "Replies come from another port than the one that was asked.",
		Client: "A client that cares who answers drops them; one that does not must at least go by the request-id.",
		Source: "RFC 3412 section 4.2.2.2, transportAddress; cards with several addresses: " + fieldPractice,
	},
	{
		Kind: snap.QuirkDuplicated, Family: Protocol, Percent: always,
		Does:   "Replies come twice.",
		Client: "Takes the first and drops the second, which must not become the answer to the next request.",
		Source: "RFC 3417 section 2: SNMP over UDP; datagrams may be duplicated (RFC 1122 section 4.1.1)",
	},
	{
		Kind: snap.QuirkReordered, Family: Protocol, Percent: Range{Default: 50, Min: 0.1, Max: 100}, Delay: Span{200 * vtime.Millisecond, vtime.Millisecond, 10 * vtime.Second},
		Does:   "Replies are held back and leave behind the next one, or after the delay if there is no next.",
		Client: "Puts replies to requests by their request-ids.",
		Source: "RFC 1122 section 4.1.1: datagrams may be delivered out of order",
	},
	{
		Kind: snap.QuirkListOfV4, Family: Protocol,
		Does:   "The access list is not looked at for who comes over IPv6, over SNMP and SSH: everybody gets in.",
		Client: "An acceptance test asks from an address that the list does not name, over IPv4 and over IPv6, and wants silence both times.",
		Source: "RFC 7123, from memory: controls of IPv4 alone leave IPv6 open; " + fieldPractice,
	},

	{
		Kind: snap.QuirkSlowObjects, Family: Capacity, Delay: Span{300 * vtime.Millisecond, vtime.Millisecond, 10 * vtime.Second},
		Does:   "Every reply takes the delay for each of its variables, at most a minute in all. Requests do not wait for each other.",
		Client: "Has time-outs that fit what it asks for at once, shows no gap as 0, and keeps the poll cycle of other cards.",
		Source: "200 to 800 ms for an object: " + fieldPractice,
	},
	{
		Kind: snap.QuirkOneAtATime, Family: Capacity, Count: Range{Default: 2, Min: 0, Max: 100}, Delay: Span{200 * vtime.Millisecond, vtime.Millisecond, 10 * vtime.Second},
		Does:   "The agent serves one request at a time, each for the delay and what slow-objects adds. So many wait; the others are dropped.",
		Client: "Has one request under way for a card, spreads its polls, and backs off on a time-out.",
		Source: fieldPractice,
	},
	{
		Kind: snap.QuirkHung, Family: Capacity, ShowsUnit: true,
		Does:   "SNMP does not answer any more; its socket stays open, notifications still leave, and the card's other surfaces answer.",
		Client: "Tells \"no data\" apart from \"not reachable\", and alerts on it. On battery it assumes the worst.",
		Source: fieldPractice,
	},
	{
		Kind: snap.QuirkLossy, Family: Capacity, Percent: Range{Default: 30, Min: 0.1, Max: 100}, ShowsUnit: true,
		Does:   "Requests get lost, as if on the way.",
		Client: "Repeats them; its data stay complete.",
		Source: "RFC 1122 section 4.1.1: datagrams may be lost",
	},

	{
		Kind: snap.QuirkBootsNotKept, Family: Security,
		Does:   "snmpEngineBoots is 1 after every start, while the engine's time begins anew.",
		Client: "Cannot know the new time from a replay by the standard's rule, so it says that it is out of step, discovers the engine anew, and goes on. It does not stay silent for ever.",
		Source: "RFC 3414 section 2.2 (boots are kept and rise), section 3.2 step 7b",
	},
	{
		Kind: snap.QuirkEngineTimeStuck, Family: Security,
		Does:   "snmpEngineTime stands still from when the quirk came into force or the agent started, whichever is later.",
		Client: "Is told notInTimeWindow after 150 s of its own clock; takes the engine's time from each report and says that it does not advance.",
		Source: "RFC 3414 section 2.2.2, section 3.2 step 7a",
	},
	{
		Kind: snap.QuirkSharedEngineID, Family: Security,
		Does:   "snmpEngineID is not the card's own: all cards with this quirk have the same one, as after copying settings from one to the other.",
		Client: "Notices two addresses with one engine ID and says so; keeps time and boots for each address.",
		Source: "RFC 3411 section 3.1.1: an snmpEngineID is unique in an administrative domain",
	},

	{
		Kind: snap.QuirkOnBatteryOnce, Family: Notifications,
		Does:   "upsTrapOnBattery is sent at the transfer and never again.",
		Client: "Does not take the silence for an all-clear: it polls.",
		Source: "RFC 1628 upsTrapOnBattery is repeated every minute",
	},
	{
		Kind: snap.QuirkNoAllClear, Family: Notifications,
		Does:   "upsTrapAlarmEntryRemoved is never sent.",
		Client: "Closes an alert by polling: no upsTrapOnBattery for more than two minutes and a reading that says mains.",
		Source: "RFC 1628 upsTrapAlarmEntryRemoved; there is no notification of the return of the mains but this",
	},
	{
		Kind: snap.QuirkNoInstance, Family: Notifications,
		Does:   "Variables in notifications lack the instance behind the name of their object.",
		Client: "Finds them by the object's name all the same, and says that the notification is malformed.",
		Source: "RFC 3416 section 4.2.6: a notification carries instances; seen in captures: " + fieldPractice,
	},
	{
		Kind: snap.QuirkStorm, Family: Notifications, Count: Range{Default: 20, Min: 2, Max: 1000},
		Does:   "Every notification is sent so many times at once, without the pause of five seconds.",
		Client: "Makes one incident of them and keeps the last state; does not drop what comes behind them.",
		Source: "RFC 1628: the same notification not more often than every five seconds to one receiver; " + fieldPractice,
	},
	{
		Kind: snap.QuirkNoPause, Family: Notifications,
		Does:   "Notifications of one kind do not wait for five seconds after one another, and what comes and goes is not merged: each is sent once, at once, in order. Nothing else is changed.",
		Client: "Holds the sysUpTime of two notifications of one kind against each other, and says that the pause is missing; makes one incident of those of one alarm and keeps the last state.",
		Source: "RFC 1628: the same notification not more often than every five seconds to one receiver; " + fieldPractice,
	},
	{
		Kind: snap.QuirkWrongAgentAddress, Family: Notifications,
		Does:   "agent-addr in traps of SNMPv1 is not the card's address but 203.0.113.1, as if the card had never been told its own.",
		Client: "Goes by where the datagram came from as long as no proxy stands between, and says that the two differ; never puts the alert under the device that has the other address.",
		Source: "RFC 1157 section 4.1.6 agent-addr is the address of the object that generates the trap; RFC 3584 section 3.1 on proxies; " + fieldPractice,
	},

	{
		Kind: snap.QuirkHalfAwake, Family: Start, Lasts: Span{40 * vtime.Second, vtime.Second, vtime.Hour}, ShowsUnit: true,
		Does:   "For a while after each restart the card answers without having read its unit: no lines, no alarms, no measurements, empty names, output source other, battery status unknown.",
		Client: "Keeps what it knew, discovers again later, and takes nothing of it for mains, for 0, or for sensors that were taken away.",
		Source: "RFC 1628 lets a table be empty, not wrong; 0 to 40 s after the start: " + fieldPractice,
	},
	{
		Kind: snap.QuirkCountersNotKept, Family: Start,
		Does:   "upsInputLineBads is counted by the card and begins at 0 whenever it starts, instead of going on.",
		Client: "Takes a counter that is less than before for a new beginning if sysUpTime went back too, and reckons no rate and no failures across it; only without that is it a wrap.",
		Source: "RFC 2578 section 7.1.6: a Counter32 has no defined initial value, and a discontinuity at re-initialisation shows in sysUpTime; " + fieldPractice,
	},
}
