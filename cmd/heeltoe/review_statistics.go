package main

import (
	"fmt"
	"io"
	"strings"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/view"
)

// printStatistics prints how sure the figures are, how the reps went and where the
// spread comes from, each with a sentence.
func printStatistics(w io.Writer, r *view.Report) {
	s, g := r.Statistics, fine(r.Setting.Fineness)
	fmt.Fprintf(w, "How sure the figures are: intervals that hold the true value about %.0f times of 100 (a little less\noften in short runs), by resampling the n presses of each; of fewer than %d there is none.\n", 100*s.Level, estimate.LeastN)
	table(w, "of n median,ms interval mean,ms interval sd,ms interval mad,ms interval", func(row func(...any)) {
		eachFigures(r, func(of string, f *view.Figures) {
			row(of, f.N, g.offset(f.Median.Value), rangeText(f.Median, ms), g.offset(f.Mean.Value), rangeText(f.Mean, ms), g.sd(f.SD.Value), rangeText(f.SD, size), g.mad(f.MAD.Value), rangeText(f.MAD, size))
		})
	})
	table(w, "of n early interval late interval steadiness interval shift,ms interval", func(row func(...any)) {
		eachFigures(r, func(of string, f *view.Figures) {
			row(of, f.N, percent(f.Early.Value), rangeText(f.Early, percent), percent(f.Late.Value), rangeText(f.Late, percent),
				percent(f.Steadiness.Value), rangeText(f.Steadiness, percent), ms(f.BestShift.Value), rangeText(f.BestShift, ms))
		})
	})
	fmt.Fprintln(w, "Landings, contacts and steps from note to note: an offset is from the aim; an evenness is the time from press\nto press less that from due to due, below 0 too fast; an overlap below 0 is time with none of the two panels down.")
	table(w, "of figure n median,ms interval mean,ms interval sd,ms interval mad,ms interval", func(row func(...any)) {
		eachTimes(r, func(of, what string, t *view.Times, write func(view.Number) string) {
			value := func(us view.Number) string { return g.time(what, us, write) }
			row(of, what, t.N, value(t.Median.Value), rangeText(t.Median, write), value(t.Mean.Value), rangeText(t.Mean, write), g.sd(t.SD.Value), rangeText(t.SD, size), g.mad(t.MAD.Value), rangeText(t.MAD, size))
		})
	})
	printDrift(w, &s.Drift)
	printSource(w, &s.Source)
}

// eachFigures hands on the figures of offsets: of the run, of techniques, panels and of
// those reps that have enough presses.
func eachFigures(r *view.Report, one func(of string, f *view.Figures)) {
	s := r.Statistics
	one("run", &s.Run)
	for i := range s.Techniques {
		one(fmt.Sprintf("%s (%s)", s.Techniques[i].Technique, number(s.Techniques[i].Reps, "rep")), &s.Techniques[i].Figures)
	}
	for i := range s.Panels {
		if s.Panels[i].N > 0 {
			one(s.Panels[i].Panel, &s.Panels[i].Figures)
		}
	}
	for i := range s.Reps {
		if s.Reps[i].Median.Known() {
			one(fmt.Sprintf("rep %d", i+1), &s.Reps[i])
		}
	}
}

// landingOf names a landing by its notes, from 1, and its contacts.
func landingOf(r *view.Report, l *view.LandingTimes) string {
	var notes []string
	for _, n := range l.Notes {
		notes = append(notes, noteOf(r, n))
	}
	return strings.Join(notes, "+") + " " + strings.Join(l.Kinds, "+")
}

func noteOf(r *view.Report, note int) string {
	return fmt.Sprintf("%d %s", note+1, r.Notes[note].Panel)
}

// Names of times that are off something; the others are from one edge to another.
const (
	timeOffset = "offset"
	timeUneven = "evenness"
)

// eachTimes hands on the other times of a run, with how they are written.
func eachTimes(r *view.Report, one func(of, what string, t *view.Times, write func(view.Number) string)) {
	s := r.Statistics
	for i := range s.Landings {
		l := &s.Landings[i]
		of := landingOf(r, l)
		one(of, timeOffset, &l.Offset, ms)
		if len(l.Notes) > 1 {
			one(of, "spread", &l.Spread, size)
		}
	}
	for i := range s.Panels {
		if s.Panels[i].Dwell.N > 0 {
			one(s.Panels[i].Panel, "dwell", &s.Panels[i].Dwell, size)
		}
	}
	for i := range s.Contacts {
		c := &s.Contacts[i]
		one(c.Kind, "dwell", &c.Dwell, size)
		if c.Between.N > 0 {
			one(c.Kind, "press to press", &c.Between, size)
			one(c.Kind, timeUneven, &c.Uneven, ms)
		}
	}
	for i := range s.Overlaps {
		o := &s.Overlaps[i]
		one(noteOf(r, o.From)+" to "+noteOf(r, o.To), "overlap", &o.Time, ms)
	}
}

// within writes a range as "a to b", and – for what is unknown.
func within(r view.Range, write func(view.Number) string) string {
	if !r.Known() {
		return "–"
	}
	return write(r.Low) + " to " + write(r.High)
}

func sizeRange(r view.Range) string { return within(r, size) }

func wholePercent(n view.Number) string { return fmt.Sprintf("%.0f", 100*float64(n)) }

func percentRange(r view.Range) string {
	if t := within(r, wholePercent); t != "–" {
		return t + " %"
	}
	return "–"
}

func printDrift(w io.Writer, d *view.Drift) {
	fmt.Fprintln(w, "Over the run, for each rep (Theil–Sen slope; p says how easily chance alone gives such a trend; free is time with no panel down):")
	one := func(what string, c *view.Course, write func(view.Number) string, unit string) {
		if c.N == 0 {
			return
		}
		change := ""
		if c.Change != nil {
			change = fmt.Sprintf("; changes at rep %d", *c.Change+1)
		}
		fmt.Fprintf(w, "  %-8s %s %s a rep (%s), p %.3f, n %d%s\n", what, write(c.Slope), unit, within(c.Range, write), float64(c.P), c.N, change)
	}
	fine := func(us view.Number) string { return fmt.Sprintf("%+.2f", float64(us)/1000) }
	points := func(n view.Number) string { return fmt.Sprintf("%+.2f", 100*float64(n)) }
	one("median", &d.Offset, fine, "ms")
	one("sd", &d.Spread, fine, "ms")
	one("inner", &d.Inner, points, "percentage points")
	one("dwell", &d.Dwell, fine, "ms")
	one("free", &d.Free, fine, "ms")
	if d.WhyNot != "" {
		fmt.Fprintf(w, "  Not all can be told: %s.\n", d.WhyNot)
	}
	if d.Tiring {
		fmt.Fprintln(w, "  The spread rose or fewer notes were inner, as happens with tired feet: rest, and stop if it goes on.\n  Never push through pain.")
	}
	fmt.Fprintln(w)
}

func printSource(w io.Writer, s *view.Source) {
	fmt.Fprintln(w, "Where the spread comes from:")
	if s.Assumed {
		fmt.Fprintln(w, "  The log does not say whether the click sounded; it is taken to have.")
	}
	if c := &s.WithClick; c.WhyNot != "" {
		fmt.Fprintf(w, "  With the click it cannot be estimated: %s.\n", c.WhyNot)
	} else {
		fmt.Fprintf(w, "  With the click (n %d; linear phase correction): each press takes back %.0f %% (%s) of the offset before it.\n",
			c.N, 100*float64(c.Correction), percentRange(c.CorrectionRange))
		printParts(w, c)
	}
	if c := &s.Silent; c.WhyNot != "" {
		fmt.Fprintf(w, "  With the click silent it cannot be estimated: %s.\n", c.WhyNot)
	} else {
		fmt.Fprintf(w, "  With the click silent (n %d; two-process model):\n", c.N)
		printParts(w, c)
	}
	fmt.Fprintln(w)
}

func printParts(w io.Writer, c *view.Split) {
	fmt.Fprintf(w, "    The inner clock varies by %s ms (%s) from one press to the next: practice with fewer clicks works on it.\n", size(c.Clock), sizeRange(c.ClockRange))
	fmt.Fprintf(w, "    The delay from clock to foot varies by %s ms (%s): even, unhurried steps work on it.\n", size(c.Motor), sizeRange(c.MotorRange))
}
