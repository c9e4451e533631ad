#!/bin/sh
# Guards the database with the UPS. A timer starts it every ten seconds, with CARD,
# READ and WRITE (where the card is, and its communities), STOP (what stops the
# database) and STATE (a file that is there while the UPS has been told to switch off).
ups=1.3.6.1.2.1.33.1 # upsObjects of RFC 1628

get() { snmpget -v2c -c "$READ" -Oqve "$CARD" "$ups.$1"; }
put() { snmpset -v2c -c "$WRITE" -Oq "$CARD" "$ups.$1" i "$2" >/dev/null; }

source=$(get 4.1.0) || exit # upsOutputSource: none(2), normal(3), battery(5)
left=$(get 2.3.0) || exit   # upsEstimatedMinutesRemaining

if [ "$source" = 5 ] && [ "$left" -le 10 ] && [ ! -e "$STATE" ]; then
	put 8.2.0 180 && touch "$STATE" && $STOP # upsShutdownAfterDelay: dark in three minutes
elif [ "$source" = 2 ] && [ -e "$STATE" ]; then
	put 8.3.0 0 && rm "$STATE" # dark: upsStartupAfterDelay, on again as soon as there are mains
fi
