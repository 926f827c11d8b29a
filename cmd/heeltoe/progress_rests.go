package main

import (
	"fmt"
	"io"

	"heeltoe/trainer/view"
)

// printRests prints what nights and pauses do to the runs of a drill.
func printRests(w io.Writer, r *view.Recovery) {
	share := func(n view.Number) string { return signed(float64(n)) }
	line := func(what string, e view.Estimate, of string) {
		if e.Value.Defined() {
			fmt.Fprintf(w, "%-10s %s %%%s (%s)\n", what, share(e.Value), between(e, share, "%"), number(e.N, of))
		}
	}
	if r.Night.N+r.Day.N+r.Pause.N == 0 {
		return
	}
	fmt.Fprintln(w, "\nWhat rests do to the scatter; below 0 it gets smaller:")
	line("day", r.Day, "day")
	line("night", r.Night, "night")
	line("run", r.Run, "run")
	line("pause", r.Pause, "pause")
	fmt.Fprintln(w, "A day goes from its first two runs to its last two, a night from there to the first two of the next day, a run\nfrom its first third to its last, a pause from there to the first third of the next run.")
	if r.Night.Known() && r.Night.Low > 0 {
		fmt.Fprintln(w, "Part of an evening's practice is lost over the night: a warm-up, or more days in a row, may tell how much of that is cold feet.")
	}
	if r.Run.Known() && r.Run.Low > 0 {
		fmt.Fprintln(w, "The scatter grows within runs, as it does when feet tire: shorter runs and longer rests. Never push through pain.")
	}
}
