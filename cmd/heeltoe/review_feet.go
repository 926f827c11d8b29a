package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"heeltoe/trainer/view"
)

// feetHelp says what the figures of the reading mean.
const feetHelp = `    technique   what the feet did, as far as presses tell: hop, roll, alternate and so on; unclear
                where none is likelier than not, mash where no footing plays the presses; of a
                run mixed where none has three reps in five
    p           how probable that is; of readings with p about 0.9 nine in ten are right.
                So far that was tried on simulated players only
    standing    whether the player drifts over the pad, by panels that are reached later, left
                sooner and missed more often than those opposite
    good        reps with every note inner or middle, no stray, and the technique asked for
    landing     contacts that came down together; its offset is from where it should have come
                down to the middle of its presses, its spread from its first press to its last`

// printFeet prints what was read: the run, rep by rep, and landing by landing.
func printFeet(w io.Writer, r *view.Report) {
	fmt.Fprintf(w, "technique  %s, p %.2f", r.Run.Technique, float64(r.Run.P))
	if r.Run.Asked != "" {
		fmt.Fprintf(w, "; %s was asked for", r.Run.Asked)
	}
	fmt.Fprintf(w, "; %d of %d reps good\n", r.Run.Good, len(r.Reps))
	if s := r.Standing; s != nil {
		fmt.Fprintf(w, "standing   %s\n", standingText(s))
	}
	fmt.Fprintln(w)
	table(w, "rep technique p outcome feet", func(row func(...any)) {
		at := 0
		for i := range r.Reps {
			p := &r.Reps[i]
			from := at
			for at < len(r.Landings) && r.Landings[at].Rep == p.Rep {
				at++
			}
			row(p.Rep+1, p.Technique, fmt.Sprintf("%.2f", float64(p.P)), p.Outcome, feetText(r, p.Rep, r.Landings[from:at]))
		}
	})
	printLandings(w, r)
}

// standingText says where a player drifted to.
func standingText(s *view.Standing) string {
	switch {
	case s.WhyNot != "":
		return "cannot tell whether the player drifts: " + s.WhyNot
	case len(s.Probably) == 0:
		return "cannot tell that the player drifts"
	}
	return "probably drifting " + strings.Join(s.Probably, " and ")
}

// feetText writes a rep's landings as a drill's footing is written.
func feetText(r *view.Report, rep int, landings []view.Landing) string {
	var words []string
	for i := range landings {
		word := landingText(r, rep, &landings[i])
		if len(landings[i].Contacts) > 1 {
			word = "(" + word + ")"
		}
		words = append(words, word)
	}
	return strings.Join(words, " ")
}

func landingText(r *view.Report, rep int, l *view.Landing) string {
	notes := len(r.Notes) / len(r.Reps)
	var words []string
	for _, c := range l.Contacts {
		sign := map[string]string{"bracket": "&", "roll": ">"}[c.Kind]
		var panels []string
		for _, n := range c.Notes {
			panels = append(panels, r.Notes[rep*notes+n].Panel)
		}
		words = append(words, c.Foot+":"+strings.Join(panels, sign))
	}
	return strings.Join(words, " ")
}

// printLandings prints how often landings of two presses and more came, and how often in
// part; their times are among the statistics.
func printLandings(w io.Writer, r *view.Report) {
	several := slices.DeleteFunc(slices.Clone(r.Statistics.Landings), func(l view.LandingTimes) bool { return len(l.Notes) < 2 })
	if len(several) == 0 {
		return
	}
	table(w, "landing times incomplete interval asked first", func(row func(...any)) {
		for i := range several {
			l := &several[i]
			asked := "–"
			if l.Asked != nil {
				asked = map[bool]string{true: "yes", false: "no"}[*l.Asked]
			}
			row(landingOf(r, l), l.Half.N, percent(l.Half.Value), rangeText(l.Half, percent), asked, leadText(l.First))
		}
	})
}

// leadText says which panel of a bracket mostly came down first.
func leadText(lead map[string]int) string {
	best, total := "", 0
	for panel, n := range lead {
		total += n
		if best == "" || n > lead[best] || n == lead[best] && panel < best {
			best = panel
		}
	}
	if best == "" {
		return "–"
	}
	return fmt.Sprintf("%s %d/%d", best, lead[best], total)
}
