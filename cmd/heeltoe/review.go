package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/trainer"
	"heeltoe/trainer/view"
)

type reviewCmd struct {
	Log  string `arg:"" name:"run" help:"Run log to review."`
	JSON bool   `name:"json" help:"Print one JSON object instead of tables."`
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
    steadiness  share of matched notes that would be inner after one shift of all of them;
                the shift beside it says by how much earlier or later to press`

// reviewFile judges a run log again.
func reviewFile(path string) (*view.Report, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, pad.FileFault(path, "opened", err)
	}
	defer f.Close()
	lr, err := record.NewLogReader(path, f)
	if err != nil {
		return nil, err
	}
	return reviewLog(lr)
}

// reviewLog judges what is left of a log by the same steps as a live run.
func reviewLog(lr *record.LogReader) (*view.Report, error) {
	h := &lr.Header
	r := trainer.New(lr.Drill, judge.Options{Lead: h.Lead, Windows: h.Windows, Shift: h.Shift, Debounce: h.Debounce})
	for {
		e, err := lr.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		r.Feed(e)
	}
	r.Finish()
	rep := r.Report()
	rep.Warnings = lr.Warnings
	return rep, nil
}

// Run judges the log and prints what it came to.
func (c *reviewCmd) Run(a *app) error {
	rep, err := reviewFile(c.Log)
	if err != nil {
		return err
	}
	for _, w := range rep.Warnings {
		fmt.Fprintln(a.stderr, "warning:", w)
	}
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		enc := json.NewEncoder(w)
		enc.SetEscapeHTML(false)
		if err := enc.Encode(rep); err != nil {
			return err
		}
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
	printSummary(w, s)
	fmt.Fprintln(w)
	table(w, "rep inner middle outer absent stray median,ms mean,ms sd,ms quartiles,ms", func(row func(...any)) {
		for i := range r.Reps {
			p := &r.Reps[i]
			row(p.Rep+1, p.Inner, p.Middle, p.Outer, p.Absent, p.Stray, ms(p.Offset.Median), ms(p.Offset.Mean), size(p.Offset.SD), quartiles(p))
		}
	})
	table(w, "panel notes inner middle outer absent stray merged median,ms mean,ms sd,ms mad,ms", func(row func(...any)) {
		for _, p := range r.Panels {
			row(p.Panel, p.Notes, p.Inner, p.Middle, p.Outer, p.Absent, p.Stray, p.Merged, ms(p.Offset.Median), ms(p.Offset.Mean), size(p.Offset.SD), size(p.Offset.MAD))
		}
	})
	table(w, "band notes share median,ms mean,ms sd,ms mad,ms", func(row func(...any)) {
		for _, b := range r.Bands {
			row(b.Band, b.Notes, share(b.Notes, s.Notes), ms(b.Offset.Median), ms(b.Offset.Mean), size(b.Offset.SD), size(b.Offset.MAD))
		}
		row("absent", s.Absent, share(s.Absent, s.Notes), "–", "–", "–", "–")
	})
	printHolds(w, r)
	fmt.Fprintln(w, view.Caution)
}

func quartiles(p *view.Rep) string {
	if !p.Quartiles[0].Defined() {
		return "–"
	}
	return ms(p.Quartiles[0]) + " to " + ms(p.Quartiles[1])
}

func printSummary(w io.Writer, s *view.Summary) {
	matched := s.Notes - s.Absent
	fmt.Fprintf(w, "notes      %d: inner %d (%s), middle %d, outer %d, absent %d; stray presses %d\n",
		s.Notes, s.Inner, share(s.Inner, s.Notes), s.Middle, s.Outer, s.Absent, s.Stray)
	fmt.Fprintf(w, "offset     mean %s ms, sd %s ms, median %s ms, mad %s ms (of %d presses; negative is early)\n",
		ms(s.Offset.Mean), size(s.Offset.SD), ms(s.Offset.Median), size(s.Offset.MAD), matched)
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
	if s.Merged > 0 {
		fmt.Fprintf(w, "chatter    %d presses merged with the one before\n", s.Merged)
	}
	if s.Gaps > 0 {
		fmt.Fprintf(w, "gaps       %d times edges may be missing, %d known to be\n", s.Gaps, s.Lost)
	}
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
