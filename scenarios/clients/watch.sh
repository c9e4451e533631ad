#!/bin/sh
# A small shutdown client. It polls the card with snmpget. On battery with LIMIT
# minutes left or less it has the UPS switch off in a minute, so that it will be
# started again with the mains, and ends, as a machine that stops itself.
#
# usage: watch.sh LIMIT [seconds]
#
# With "seconds" it mistakes the unit: it takes the number for seconds. That is
# the wrong client of the scenario beside it.
limit=$1
[ "$2" = seconds ] && limit=$((limit * 60))

get() {
	snmpget -v2c -c "$RIDETHROUGH_READ_COMMUNITY" -t 1 -r 1 -Oqve "$RIDETHROUGH_SNMP" "$1" 2>/dev/null
}

echo "watching"
while :; do
	source=$(get 1.3.6.1.2.1.33.1.4.1.0) # upsOutputSource: 5 is battery
	left=$(get 1.3.6.1.2.1.33.1.2.3.0)   # upsEstimatedMinutesRemaining
	if [ "$source" = 5 ] && [ -n "$left" ] && [ "$left" -le "$limit" ]; then
		echo "on battery, $left left: stopping"
		snmpset -v2c -c "$RIDETHROUGH_WRITE_COMMUNITY" -t 1 -r 3 -Oq "$RIDETHROUGH_SNMP" \
			1.3.6.1.2.1.33.1.8.2.0 i 60 >/dev/null # upsShutdownAfterDelay
		exit 0
	fi
	sleep 0.1
done
