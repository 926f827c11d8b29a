package page

import (
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// fine writes figures of a run on a pad of some fineness. What is finer than the pad can tell
// stands in brackets, and the template greys what does.
type fine pad.Fineness

func bracketed(text string, hidden bool) string {
	if hidden && text != none {
		return "(" + text + ")"
	}
	return text
}

// grey tells whether a figure is in brackets.
func grey(text string) bool { return strings.HasPrefix(text, "(") && strings.Contains(text, ")") }

func (f fine) offset(us view.Number) string {
	return bracketed(tenth(us), pad.Fineness(f).HidesMean(float64(us)))
}

func (f fine) sd(us view.Number) string {
	return bracketed(plain(us), pad.Fineness(f).HidesSD(float64(us)))
}

func (f fine) mad(us view.Number) string {
	return bracketed(plain(us), pad.Fineness(f).HidesMAD(float64(us)))
}

// apart gives how the time between two edges is written that otherwise is written so.
func (f fine) apart(write func(view.Number) string) func(view.Number) string {
	return func(us view.Number) string { return bracketed(write(us), pad.Fineness(f).Hides(float64(us))) }
}

// hide greys a fact where it is finer than the pad can tell, and says so.
func (f *fact) hide(hidden bool) {
	if !hidden || f.Value == none {
		return
	}
	f.Value = bracketed(f.Value, true)
	f.Means += ". Grey: finer than the pad can tell, see above"
}
