// Package proc runs the real programs behind process hosts. A host's program
// is started when the host has booted, and killed, with all that it started,
// the instant its outlet opens: its process group, and on Linux also what has
// left the group, as long as it kept its environment. Whether it had ended by itself before that is
// for the engine to say.
package proc
