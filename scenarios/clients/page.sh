#!/bin/sh
# A small alert client. It polls the card with snmpget, and mails a page when the load
# has run on battery for a while, and the all-clear when that is over.
#
# usage: page.sh POLLS [repeat]
#
# POLLS is for how many polls in a row it has to be on battery. With "repeat" it pages
# with every poll. That is the wrong client of the scenario beside it.
polls=$1
paged=no
count=0

mail() {
	printf 'From: pager@site.example\r\nTo: desk@site.example\r\nSubject: %s\r\n\r\nfrom the pager\r\n' "$1" |
		curl -s --url "smtp://$RIDETHROUGH_SINK_RELAY" --mail-from pager@site.example --mail-rcpt desk@site.example --upload-file -
}

echo "watching"
while :; do
	source=$(snmpget -v2c -c "$RIDETHROUGH_READ_COMMUNITY" -t 1 -r 1 -Oqve "$RIDETHROUGH_SNMP" 1.3.6.1.2.1.33.1.4.1.0 2>/dev/null)
	case $source in
	5) # battery
		count=$((count + 1))
		if [ "$count" -ge "$polls" ] && { [ $paged = no ] || [ "$2" = repeat ]; }; then
			mail "PAGE: on battery" && paged=yes
		fi
		;;
	'') ;; # no answer says nothing
	*)
		count=0
		if [ $paged = yes ]; then
			mail "CLEAR: mains are back" && paged=no
		fi
		;;
	esac
	sleep 0.1
done
