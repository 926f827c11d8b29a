//go:build unix

package live

import (
	"os"

	"golang.org/x/sys/unix"
)

// lock locks f for this process, or fails at once where another has it.
func lock(f *os.File) error { return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) }
