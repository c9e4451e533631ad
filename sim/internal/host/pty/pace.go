package pty

import "time"

// bitsPerByte on the wire: start bit, eight data bits, stop bit (8N1).
const bitsPerByte = 10

// chunkTime is about how much line time is written at once: long enough to spare
// a wake-up for every byte, short enough to look even to an eye.
const chunkTime = 15 * time.Millisecond

// wire computes when bytes may be sent at a speed. It holds no clock: times come
// from the caller.
type wire struct {
	baud int
	free time.Time // when the last byte taken will have been sent
}

// chunk is the number of bytes to be written at once; 0 means all of them.
func (w *wire) chunk() int {
	if w.baud <= 0 {
		return 0
	}
	return max(1, int(chunkTime*time.Duration(w.baud)/bitsPerByte/time.Second))
}

// take books n bytes at now and returns how long to wait before they are handed
// over: until their last bit would have left a real line.
func (w *wire) take(now time.Time, n int) time.Duration {
	if w.baud <= 0 {
		return 0
	}
	if w.free.Before(now) {
		w.free = now
	}
	w.free = w.free.Add(time.Duration(n) * bitsPerByte * time.Second / time.Duration(w.baud))
	return w.free.Sub(now)
}
