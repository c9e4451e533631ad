#!/bin/sh
# A small shutdown client. It polls the card with snmpget and ends, as a machine
# that stops itself, when on battery with LIMIT minutes left or less.
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
		exit 0
	fi
	sleep 0.1
done
