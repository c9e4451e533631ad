#!/usr/bin/env bash
# Measures the agent against net-snmp's snmpd and a bare UDP echo server, all three
# as processes of their own on loopback, in one run on this machine:
#
#   testdata/bench/snmp-ratio/run.sh [ROUNDS]
#
# Needs go and snmpd (Debian: apt-get install snmpd); installs nothing, needs no
# privileges, and stops what it started. Writes a table to standard output and the
# medians as benchmark metrics behind it. Takes about 5 seconds a round; 15 rounds
# unless said otherwise. RATIO_LEG is how long each server is driven at a time.
set -euo pipefail
cd "$(dirname "$0")/../../.."
PATH="$PATH:/usr/sbin:/sbin"
rounds=${1:-15}
if ! [[ $rounds =~ ^[1-9][0-9]*$ ]]; then
  echo "usage: $0 [ROUNDS]: expected a number from 1, not '$rounds'" >&2
  exit 2
fi
if ! command -v snmpd >/dev/null; then
  echo "snmpd is not there; on Debian: apt-get install snmpd" >&2
  exit 3
fi
echo "machine: $(nproc) cores, load $(cut -d' ' -f1 /proc/loadavg), $(go version | cut -d' ' -f3-), $(snmpd -v | sed -n 's/^NET-SNMP version: */snmpd /p')"
exec go test -run '^$' -bench '^BenchmarkRatio$' -benchtime "${rounds}x" -timeout 1h ./cmd/ridethrough
