package main

import (
	"fmt"
	"io"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// fine writes figures in milliseconds for a pad of some fineness: what is finer than the
// pad can tell stands in brackets.
type fine pad.Fineness

// offset writes a mean or a median of offsets.
func (f fine) offset(us view.Number) string {
	return f.bracketed(ms(us), pad.Fineness(f).HidesMean(float64(us)))
}

// sd writes a standard deviation, mad a median absolute deviation.
func (f fine) sd(us view.Number) string {
	return f.bracketed(size(us), pad.Fineness(f).HidesSD(float64(us)))
}
func (f fine) mad(us view.Number) string {
	return f.bracketed(size(us), pad.Fineness(f).HidesMAD(float64(us)))
}

// time writes one of the times of a run (see eachTimes): of those between two edges
// the pad tells none that is shorter than its interval.
func (f fine) time(name string, us view.Number, write func(view.Number) string) string {
	hidden := pad.Fineness(f).Hides(float64(us))
	if name == timeOffset || name == timeUneven {
		hidden = pad.Fineness(f).HidesMean(float64(us))
	}
	return f.bracketed(write(us), hidden)
}

func (f fine) bracketed(text string, hidden bool) string {
	if hidden {
		return "(" + text + ")"
	}
	return text
}

// print says what the brackets mean, where the pad's fineness is known.
func (f fine) print(w io.Writer) {
	if f > 0 {
		fmt.Fprintf(w, "pad        %s; such figures stand in brackets\n", pad.Fineness(f))
	}
}
