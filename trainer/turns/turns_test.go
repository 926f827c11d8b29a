//go:build linux

package turns_test

import (
	"runtime"
	"testing"

	"golang.org/x/sys/unix"

	"heeltoe/trainer/turns"
)

// attributes gives those of the goroutine's thread, to which it stays locked.
func attributes(t *testing.T) *unix.SchedAttr {
	t.Helper()
	runtime.LockOSThread()
	a, err := unix.SchedGetAttr(0, 0)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Only the thread that is to be late is nicer than before.
func TestLate(t *testing.T) {
	before := attributes(t)
	late := make(chan *unix.SchedAttr)
	go func() {
		turns.Late()
		a, _ := unix.SchedGetAttr(0, 0)
		late <- a
	}()
	if a, want := <-late, min(before.Nice+10, 19); a == nil || a.Nice != want {
		t.Errorf("the late thread has %+v, want a niceness of %d", a, want)
	}
	if is := attributes(t); is.Nice != before.Nice {
		t.Errorf("another thread has a niceness of %d, it was %d", is.Nice, before.Nice)
	}
}

// Threads that are there and threads that come ask for short turns, but for a late
// one; their niceness stays.
func TestSoon(t *testing.T) {
	before := attributes(t)
	turns.Soon()
	defer func() { _ = unix.SchedSetAttr(0, before, 0) }()
	is := attributes(t)
	if is.Runtime == before.Runtime {
		t.Skip("the system takes no notice: Linux 6.12 and later do")
	}
	if is.Runtime != 100_000 || is.Nice != before.Nice {
		t.Errorf("it has %+v, was %+v", is, before)
	}
	others := make(chan *unix.SchedAttr)
	go func() {
		runtime.LockOSThread()
		a, _ := unix.SchedGetAttr(0, 0)
		others <- a
		turns.Late()
		a, _ = unix.SchedGetAttr(0, 0)
		others <- a
	}()
	if a := <-others; a == nil || a.Runtime != is.Runtime {
		t.Errorf("a thread that comes has %+v", a)
	}
	if a := <-others; a == nil || a.Runtime != before.Runtime {
		t.Errorf("a late thread has %+v", a)
	}
}
