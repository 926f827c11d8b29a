package practice

import "fmt"

// Wrong is a choice that cannot be played: wrong usage, to be put right by the player.
type Wrong struct{ msg string }

func (e *Wrong) Error() string { return e.msg }

// Wrongf makes a Wrong.
func Wrongf(format string, args ...any) error { return &Wrong{fmt.Sprintf(format, args...)} }

// Lacking is something that the machine lacks: a pad, a display, sound. It says
// what to do about it.
type Lacking struct{ msg string }

func (e *Lacking) Error() string { return e.msg }

// Lackf makes a Lacking.
func Lackf(format string, args ...any) error { return &Lacking{fmt.Sprintf(format, args...)} }
