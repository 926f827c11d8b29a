package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"heeltoe/trainer/consistency"
	"heeltoe/trainer/labels"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/view"
)

type reviewCmd struct {
	Log  string `arg:"" name:"run" help:"Run log to review."`
	JSON bool   `name:"json" help:"Print one JSON object instead of tables."`

	Check bool `help:"Print how often the reading of feet agrees with the run's labels (see heeltoe label)." xor:"what"`
	Free  bool `help:"Read feet and contacts press by press, with no drill to go by." xor:"what"`
}

// Help is shown by review --help.
func (c *reviewCmd) Help() string {
	return "Judges a run log again and sums it up: by run, rep, panel and band.\n\n" + figuresHelp
}

// figuresHelp says what the figures mean, wherever they are shown.
const figuresHelp = `    offset      press minus due moment, in ms: negative is early, positive is late
    inner, middle, outer  how far off a press was (see the windows of the drill)
    absent      notes without a press; stray: presses without a note
    sd          sample standard deviation of the offsets: how much they vary
    mad         median distance from the median: the same, little moved by single slips
    quartiles   a quarter of the offsets lie below the first, a quarter above the second
    scatter     half of the matched notes lie so near to their own note's median over the run:
                that notes gathered into one landing come early and late does not count
    steadiness  share of matched notes that would be inner after one shift of all of them;
                the shift beside it says by how much earlier or later to press
` + feetHelp

// Run judges the log and prints what it came to.
func (c *reviewCmd) Run(a *app) error {
	if c.Free {
		return c.runFree(a)
	}
	rep, err := practice.Review(c.Log)
	if err != nil {
		return err
	}
	rep.Statistics = consistency.Of(rep)
	for _, w := range rep.Warnings {
		fmt.Fprintln(a.stderr, "warning:", w)
	}
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		if err := writeJSON(w, rep); err != nil {
			return err
		}
		return w.Flush()
	}
	if c.Check {
		l, err := labels.Read(c.Log)
		if err != nil {
			return err
		}
		printCheck(w, rep, l)
		return w.Flush()
	}
	printReport(w, rep)
	return w.Flush()
}

// ms writes microseconds as signed milliseconds, and – for what is undefined.
func ms(us view.Number) string {
	if !us.Defined() {
		return "–"
	}
	return fmt.Sprintf("%+.1f", float64(us)/1000)
}

// size is ms without the sign, for what has none.
func size(us view.Number) string { return strings.TrimPrefix(ms(us), "+") }

func moment(m view.Moment) view.Number {
	if !m.Defined() {
		return view.Undefined
	}
	return view.Number(m)
}

func share(n, of int) string {
	if of == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(of))
}

// writeJSON writes one JSON object or array.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// table aligns columns to the right, the first to the left.
func table(w io.Writer, head string, rows func(row func(cells ...any))) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, strings.ReplaceAll(strings.Join(strings.Fields(head), "\t"), ",ms", " ms")+"\t")
	rows(func(cells ...any) {
		for _, c := range cells {
			fmt.Fprint(t, c, "\t")
		}
		fmt.Fprintln(t)
	})
	t.Flush()
	fmt.Fprintln(w)
}

func printReport(w io.Writer, r *view.Report) {
	s := &r.Summary
	fmt.Fprintf(w, "%s: layout %s, %g beats a minute, %d slots a beat, %d reps\n", r.Drill, r.Layout, r.BPM, r.PerBeat, len(r.Reps))
	if n := len(r.Reps); s.RepsBegun < n {
		fmt.Fprintf(w, "The log ends in rep %d of %d; notes after it count as absent.\n", s.RepsBegun, n)
	}
	f := fine(r.Setting.Fineness)
	printSummary(w, s, f)
	printFeet(w, r)
	table(w, "rep inner middle outer absent stray median,ms mean,ms sd,ms quartiles,ms", func(row func(...any)) {
		for i := range r.Reps {
			p := &r.Reps[i]
			row(p.Rep+1, p.Inner, p.Middle, p.Outer, p.Absent, p.Stray, f.offset(p.Offset.Median), f.offset(p.Offset.Mean), f.sd(p.Offset.SD), quartiles(p))
		}
	})
	table(w, "panel notes inner middle outer absent stray merged median,ms mean,ms sd,ms mad,ms", func(row func(...any)) {
		for _, p := range r.Panels {
			row(p.Panel, p.Notes, p.Inner, p.Middle, p.Outer, p.Absent, p.Stray, p.Merged, f.offset(p.Offset.Median), f.offset(p.Offset.Mean), f.sd(p.Offset.SD), f.mad(p.Offset.MAD))
		}
	})
	table(w, "band notes share median,ms mean,ms sd,ms mad,ms", func(row func(...any)) {
		for _, b := range r.Bands {
			row(b.Band, b.Notes, share(b.Notes, s.Notes), f.offset(b.Offset.Median), f.offset(b.Offset.Mean), f.sd(b.Offset.SD), f.mad(b.Offset.MAD))
		}
		row("absent", s.Absent, share(s.Absent, s.Notes), "–", "–", "–", "–")
	})
	printHolds(w, r)
	printStatistics(w, r)
	fmt.Fprintln(w, view.Caution)
}

func quartiles(p *view.Rep) string {
	if !p.Quartiles[0].Defined() {
		return "–"
	}
	return ms(p.Quartiles[0]) + " to " + ms(p.Quartiles[1])
}

func printSummary(w io.Writer, s *view.Summary, f fine) {
	matched := s.Notes - s.Absent
	fmt.Fprintf(w, "notes      %d: inner %d (%s), middle %d, outer %d, absent %d; stray presses %d\n",
		s.Notes, s.Inner, share(s.Inner, s.Notes), s.Middle, s.Outer, s.Absent, s.Stray)
	fmt.Fprintf(w, "offset     mean %s ms, sd %s ms, median %s ms, mad %s ms (of %d presses; negative is early)\n",
		f.offset(s.Offset.Mean), f.sd(s.Offset.SD), f.offset(s.Offset.Median), f.mad(s.Offset.MAD), matched)
	if matched > 0 {
		how := "as it is"
		switch d := float64(s.BestShift); {
		case d > 0:
			how = fmt.Sprintf("if every press came %.1f ms later", d/1000)
		case d < 0:
			how = fmt.Sprintf("if every press came %.1f ms earlier", -d/1000)
		}
		fmt.Fprintf(w, "steadiness %.1f %% of %d matched notes would be inner %s\n", 100*float64(s.Steadiness), matched, how)
	}
	if s.Scatter.Defined() {
		fmt.Fprintf(w, "scatter    %s ms (%d presses)\n", size(s.Scatter), matched)
	}
	if s.Merged > 0 {
		fmt.Fprintf(w, "chatter    %d presses merged with the one before\n", s.Merged)
	}
	if s.Gaps > 0 {
		fmt.Fprintf(w, "gaps       %d times presses may be missing, up to %d reports\n", s.Gaps, s.Lost)
	}
	f.print(w)
}

func printHolds(w io.Writer, r *view.Report) {
	held := false
	for i := range r.Notes {
		held = held || r.Notes[i].Hold != nil
	}
	if !held {
		return
	}
	table(w, "hold:rep note panel for,ms covered start,ms drops regrabs release,ms", func(row func(...any)) {
		for i := range r.Notes {
			n := &r.Notes[i]
			h := n.Hold
			if h == nil {
				continue
			}
			cover := share(int(h.Cover), int(h.Duration))
			if h.Unknown {
				cover = "≥ " + cover
			}
			row(n.Rep+1, n.Note, n.Panel, size(moment(h.Duration)), cover, ms(moment(h.StartLate)), h.Drops, h.Regrabs, ms(moment(h.Release)))
		}
	})
}
