#!/bin/sh
# The timer of the test: twelve minutes, every ten seconds a look of guard.sh.
# ridethrough serve starts it, and gives it the RIDETHROUGH_ variables.
cd "$(dirname "$0")" || exit
export CARD="$RIDETHROUGH_SNMP" READ="$RIDETHROUGH_READ_COMMUNITY" WRITE="$RIDETHROUGH_WRITE_COMMUNITY"
export STOP="sh stop-db.sh" STATE="${TMPDIR:-/tmp}/guard.$$"
trap 'rm -f "$STATE"' EXIT

looks=0
while [ $looks -lt 72 ]; do
	sh guard.sh
	ridethrough send --step 10s >/dev/null || exit
	looks=$((looks + 1))
done
