package fleet

import (
	"container/heap"
	"time"
)

// queue is the devices of a shard by their next instants, of equal ones by
// number. It implements [heap.Interface].
type queue []*unit

func (q queue) Len() int { return len(q) }

func (q queue) Less(i, j int) bool {
	if q[i].next != q[j].next {
		return q[i].next < q[j].next
	}
	return q[i].number < q[j].number
}

func (q queue) Swap(i, j int) {
	q[i], q[j] = q[j], q[i]
	q[i].place, q[j].place = int32(i), int32(j)
}

// Push implements [heap.Interface].
func (q *queue) Push(x any) {
	u := x.(*unit)
	u.place = int32(len(*q))
	*q = append(*q, u)
}

// Pop implements [heap.Interface].
func (q *queue) Pop() any {
	last := len(*q) - 1
	u := (*q)[last]
	(*q)[last] = nil
	*q, u.place = (*q)[:last], -1
	return u
}

// timer is what is to be done when a real time has come.
type timer struct {
	at    time.Duration // by the clock's Elapsed
	order uint64
	do    func()
}

// timers are by time, of equal ones in the order in which they were set. It
// implements [heap.Interface].
type timers struct {
	list  []timer
	order uint64
}

func (t *timers) Len() int { return len(t.list) }

func (t *timers) Less(i, j int) bool {
	a, b := &t.list[i], &t.list[j]
	if a.at != b.at {
		return a.at < b.at
	}
	return a.order < b.order
}

func (t *timers) Swap(i, j int) { t.list[i], t.list[j] = t.list[j], t.list[i] }

// Push implements [heap.Interface].
func (t *timers) Push(x any) { t.list = append(t.list, x.(timer)) }

// Pop implements [heap.Interface].
func (t *timers) Pop() any {
	last := len(t.list) - 1
	x := t.list[last]
	t.list[last] = timer{}
	t.list = t.list[:last]
	return x
}

// set has do called at a time.
func (t *timers) set(at time.Duration, do func()) {
	t.order++
	heap.Push(t, timer{at, t.order, do})
}

// due takes out what is due at now, nil if nothing is.
func (t *timers) due(now time.Duration) func() {
	if len(t.list) == 0 || t.list[0].at > now {
		return nil
	}
	return heap.Pop(t).(timer).do
}
