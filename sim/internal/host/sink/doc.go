// Package sink opens the servers of a scenario that keep what arrives: mail relays,
// syslog collectors and receivers of notifications, each a real listener on loopback.
// What arrives goes to the engine as a command, and the engine says what its sender is
// told: faults are the scenario's and the timeline's. Sessions, sizes and the time that
// anybody may take are bounded.
package sink
