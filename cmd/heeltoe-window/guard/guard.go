// Package guard ends the window's program with a plain message where there is
// no display, before the window's library can fail without one.
//
// It has to be initialised before that library. Go initialises packages in
// order of import path as soon as what they import is ready; this one imports
// os and syscall alone, and the library more than that. A test sees to it that this holds.
package guard

import (
	"os"
	"syscall"
)

// ExitLacking is the exit code for something that the machine lacks.
const ExitLacking = 3

func init() {
	if msg := lacking(os.Getenv("DISPLAY")); msg != "" {
		os.Stderr.WriteString("heeltoe-window: " + msg + "\n")
		os.Exit(ExitLacking)
	}
}

// lacking says what is missing to open a window, or nothing.
func lacking(display string) string {
	if display == "" {
		return "there is no display (DISPLAY is not set); heeltoe live plays as text without one"
	}
	if display[0] != ':' {
		return "" // on another machine, or named by a path: the library finds out
	}
	number := display[1:]
	for i := range len(number) {
		if number[i] == '.' {
			number = number[:i]
			break
		}
	}
	fd, err := syscall.Socket(syscall.AF_UNIX, syscall.SOCK_STREAM, 0)
	if err != nil {
		return ""
	}
	defer syscall.Close(fd)
	for _, name := range []string{"@/tmp/.X11-unix/X" + number, "/tmp/.X11-unix/X" + number} {
		if syscall.Connect(fd, &syscall.SockaddrUnix{Name: name}) == nil {
			return ""
		}
	}
	return "no display answers at " + display + "; heeltoe live plays as text without one"
}
