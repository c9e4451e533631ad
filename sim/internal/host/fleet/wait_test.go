package fleet

import (
	"strings"
	"sync"
	"testing"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/host/pace"
)

// fast is a fleet whose time goes 3600 times as fast.
func fast(t *testing.T, text string, n int) *Fleet {
	t.Helper()
	c := config(t, text, n)
	var err error
	if c.Clock, err = pace.New(3600); err != nil {
		t.Fatal(err)
	}
	return open(t, c)
}

// standing runs f while its time stands, so that who is to wait does so from the
// beginning; let has time go.
func standing(t *testing.T, f *Fleet) (let, stop func()) {
	t.Helper()
	f.clock.StartStanding()
	return func() { f.clock.Turn(0, 3600, true); f.Wake() }, serve(t, f)
}

func (f *Fleet) waiting() (n int) {
	for _, s := range f.shards {
		s.ask(func() { n += len(s.vigils) })
	}
	return n
}

const discharged = "battery.charge_pct < 40"

// TestWaitForOne: a wait is for one device. It ends to the instant when its condition
// holds there, or when the time is up; what happens at others does not count.
func TestWaitForOne(t *testing.T) {
	f := fast(t, small, 5)
	let, stop := standing(t, f)
	defer stop()
	var all sync.WaitGroup
	for n := 1; n <= 5; n++ {
		all.Go(func() {
			o, r := f.Wait(n, nil, engine.Wait{Until: discharged, For: 30 * vtime.Minute})
			switch held := n == 4; {
			case r.Status != snap.Done || o.Held != held || o.Ended || !strings.HasPrefix(o.Values, "battery.charge_pct = "):
				t.Errorf("device %d: %+v, %+v", n, o, r)
			case !held && o.Now < 30*vtime.Minute:
				t.Errorf("device %d: the time was up at %s", n, o.Now)
			}
		})
	}
	for f.waiting() < 5 {
	}
	if r := f.Submit(4, snap.Command{Op: snap.OpInject, Text: "charge_pct = 30"}); r.Status != snap.Done {
		t.Fatal(r)
	}
	let()
	all.Wait()
	if o, r := f.Wait(4, nil, engine.Wait{Until: discharged, For: vtime.Hour}); !o.Held || r.Status != snap.Done {
		t.Errorf("it holds already: %+v, %+v", o, r)
	}
	if n := f.waiting(); n != 0 {
		t.Errorf("%d still wait", n)
	}
}

// TestWaitForWhatComes: the instant is that of the threshold, the same for two devices
// that do the same, whoever else waits.
func TestWaitForWhatComes(t *testing.T) {
	f := fast(t, small+"[[at]]\ntime = \"10m\"\nsource = \"lost\"\n", 2)
	let, stop := standing(t, f)
	defer stop()
	var got [2]engine.Outcome
	var all sync.WaitGroup
	for i := range got {
		all.Go(func() {
			var r snap.Result
			if got[i], r = f.Wait(i+1, nil, engine.Wait{Until: "battery.charge_pct < 99", For: vtime.Hour}); r.Status != snap.Done {
				t.Errorf("%+v", r)
			}
		})
	}
	for f.waiting() < len(got) {
	}
	let()
	all.Wait()
	if got[0] != got[1] || !got[0].Held || got[0].Now <= 10*vtime.Minute {
		t.Errorf("%+v", got)
	}
}

// TestWaitInVain: a wrong condition is one line; who goes away is forgotten; the end of
// the run and of the session are told.
func TestWaitInVain(t *testing.T) {
	f := fast(t, strings.Replace(small, "24h", "20m", 1), 4)
	let, stop := standing(t, f)
	defer stop()
	if _, r := f.Wait(1, nil, engine.Wait{Until: "battery.charge <", For: vtime.Hour}); r.Status != snap.WrongValue || r.Reason == "" || strings.Contains(r.Reason, "\n") {
		t.Errorf("%+v", r)
	}
	gone := make(chan struct{})
	close(gone)
	if f.Wait(1, gone, engine.Wait{Until: discharged, For: vtime.Hour}); f.waiting() != 0 {
		t.Error("who has gone still waits")
	}
	go func() {
		for f.waiting() == 0 {
		}
		let()
	}()
	if o, r := f.Wait(3, nil, engine.Wait{Until: discharged, For: 10 * vtime.Hour}); r.Status != snap.Done || o.Held || !o.Ended || o.Now != 20*vtime.Minute {
		t.Errorf("at the end of the run: %+v, %+v", o, r)
	}
	f = open(t, config(t, small, 4))
	stop = run(t, f)
	defer stop()
	var all sync.WaitGroup
	all.Go(func() {
		if _, r := f.Wait(2, nil, engine.Wait{Until: discharged, For: vtime.Hour}); r.Status != snap.Gone {
			t.Errorf("at the end of the session: %+v", r)
		}
	})
	for f.waiting() == 0 {
	}
	stop()
	all.Wait()
}

// TestFind: devices are known by their serial numbers, too.
func TestFind(t *testing.T) {
	f := open(t, config(t, small, 5))
	serial := f.Member(4).Card.Identity.SerialNumber
	if n := f.Find(serial); n != 4 || !strings.HasSuffix(serial, "-00004") {
		t.Errorf("%s is device %d", serial, n)
	}
	if n := f.Find("none"); n != 0 {
		t.Errorf("a device %d that is not there", n)
	}
}
