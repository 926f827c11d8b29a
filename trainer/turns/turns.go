// Package turns tells the system which threads are to have their turn first where
// the machine is short of time: a press is read and judged before a picture is
// drawn or feet are read. A system that refuses, or knows no such thing, loses
// nothing but that. Only Linux gives threads turns of their own.
package turns

import "runtime"

// Soon has the threads of the whole program come on soon after they were woken,
// for short turns. It is called once, at the start.
func Soon() { soon() }

// Late locks the goroutine to its thread for good and puts that thread, and those
// that foreign code begins from it, behind the others. The thread ends with the
// goroutine.
func Late() {
	runtime.LockOSThread()
	late()
}
