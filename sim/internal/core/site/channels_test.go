package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

// TestChannels: row 43 of the needs. What is not taken is tried again with each poll
// until the deadline, what is accepted is waited for as long; the storage follows then.
func TestChannels(t *testing.T) {
	for channel, row := range map[string]struct {
		refused uint32
		stops   int
		says    string
	}{
		"works":                    {0, 1, "host vm: stopped"},
		"refuses":                  {18, 0, "order to stop host vm not taken: refuses"},
		"rejects-credentials":      {18, 0, "order to stop host vm not taken: rejects-credentials"},
		"certificate-expired":      {18, 0, "order to stop host vm not taken: certificate-expired"},
		"accepts-and-does-nothing": {0, 0, "goes on without host vm: accepts-and-does-nothing"},
	} {
		t.Run(channel, func(t *testing.T) {
			r := playtest.Start(t, channelled(channel)).Inject(lost).To(10 * min)
			vm, storage := host(t, r, "vm"), host(t, r, "storage")
			if vm.Refused != row.refused || vm.Stops != row.stops || vm.Cuts != 1-row.stops || r.Count(row.says) != 1 {
				t.Errorf("%+v, said %d times\n%s", vm, r.Count(row.says), r.Trace())
			}
			told := 70*sec + 3*min
			if row.stops == 1 {
				told = 70*sec + 2*min
			}
			if at := when(r, "host storage: stopping"); at != told || storage.Ended != "clean" {
				t.Errorf("storage told at %v, want %v: %+v", at, told, storage)
			}
		})
	}
}

// TestChannelMended: the next poll's order is taken, once.
func TestChannelMended(t *testing.T) {
	r := playtest.Start(t, channelled("refuses")).Inject(lost).To(95 * sec)
	r.Inject("host = \"vm\"\nchannel = \"works\"").To(10 * min)
	if vm := host(t, r, "vm"); vm.Refused != 3 || vm.Stops != 1 || when(r, "host vm: stopping") != 100*sec {
		t.Errorf("%+v\n%s", vm, r.Trace())
	}
}

// TestMainsBackWithNothingStopped: an order that nobody took has stopped nobody, so that
// the return of the mains ends the shutdown.
func TestMainsBackWithNothingStopped(t *testing.T) {
	for channel, off := range map[string]int{"refuses": 0, "accepts-and-does-nothing": 1} {
		src := strings.Replace(channelled(channel), "order = \"by-needs\"", "order = \"by-needs\"\non_return = \"finish\"", 1)
		r := playtest.Start(t, src).Inject(lost).To(95 * sec).Inject(normal).To(20 * min)
		if n := r.Count("output: off"); n != off {
			t.Errorf("%s: output off %d times\n%s", channel, n, r.Trace())
		}
	}
}

// TestChannelOfNobody: a contact needs none, nor has somebody at the host.
func TestChannelOfNobody(t *testing.T) {
	r := playtest.Start(t, channelled("refuses")).To(10 * sec).Inject("host = \"vm\"\norder = \"stop\"").To(4 * min)
	if vm := host(t, r, "vm"); vm.Stops != 1 || vm.Refused != 0 || when(r, "host vm: stopping") == vtime.Never {
		t.Errorf("%+v", vm)
	}
}

func channelled(channel string) string {
	src := strings.Replace(managed, `needs = ["storage"]`, "needs = [\"storage\"]\nchannel = \""+channel+"\"", 1)
	return src + "on_battery_for = \"60s\"\nhost_deadline = \"3m\"\noff_delay = \"0s\"\norder = \"by-needs\"\n"
}
