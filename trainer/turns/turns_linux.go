package turns

import (
	"os"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

const (
	// slice is how long a thread asks to go on once it has its turn: the least that
	// the system takes. Who asks for less comes on sooner after it was woken
	// (sched_setattr(2), of Linux 6.12 and later; older ones take no notice).
	slice = 100 * time.Microsecond
	// niceness is by how much a thread is put behind, of 39 steps in all.
	niceness = 10
)

// soon asks for short turns for the threads that are there; those to come begin
// as the thread that begins them.
func soon() {
	tasks, err := os.ReadDir("/proc/self/task")
	if err != nil {
		return
	}
	for _, t := range tasks {
		if tid, err := strconv.Atoi(t.Name()); err == nil {
			ask(tid, slice, 0)
		}
	}
}

func late() { ask(0, 0, niceness) }

// ask sets a thread's slice, 0 for the system's own, and adds to its niceness;
// thread 0 is the caller's.
func ask(tid int, slice time.Duration, niceness int32) {
	a, err := unix.SchedGetAttr(tid, 0)
	if err != nil || a.Policy != unix.SCHED_NORMAL {
		return
	}
	a.Runtime = uint64(slice)
	a.Nice = min(a.Nice+niceness, 19)
	_ = unix.SchedSetAttr(tid, a, 0)
}
