package main

import (
	"bufio"
	"fmt"
	"io"
	"text/tabwriter"
	"unicode/utf8"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/practice"
)

type drillsCmd struct {
	List    drillsListCmd    `cmd:"" help:"List the built-in drills."`
	Show    drillsShowCmd    `cmd:"" help:"Show a drill panel by panel."`
	Capture drillsCaptureCmd `cmd:"" help:"Take down a pattern stomped on the pad as a drill file."`
}

type drillsListCmd struct {
	JSON bool `name:"json" help:"Print a JSON array instead of a table."`
}

// Run lists the library.
func (c *drillsListCmd) Run(a *app) error {
	if c.JSON {
		return writeJSON(a.stdout, drills.List())
	}
	out := bufio.NewWriter(a.stdout)
	for _, l := range []*pad.Layout{pad.Single, pad.Double} {
		fmt.Fprintf(out, "layout %s\n", l.Name)
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		for _, e := range drills.List() {
			if e.Layout == l.Name {
				fmt.Fprintf(w, "  %s\t%s\n", e.ID, e.Help)
			}
		}
		w.Flush()
	}
	return out.Flush()
}

type drillsShowCmd struct {
	Drill   string `arg:"" help:"Built-in drill (see heeltoe drills list) or drill file."`
	Mirror  bool   `help:"Left and right exchanged."`
	Reverse bool   `help:"From the end to the start."`
	Within  bool   `help:"Wrapped in notes that lead in and out."`
	TOML    bool   `name:"toml" help:"Print a drill file, to keep and to change."`
}

// Run shows the drill.
func (c *drillsShowCmd) Run(a *app) error {
	d, err := practice.LoadDrill(c.Drill, c.Mirror, c.Reverse, c.Within)
	if err != nil {
		return err
	}
	if c.TOML {
		text, err := d.MarshalTOML()
		if err != nil {
			return err
		}
		_, err = a.stdout.Write(text)
		return err
	}
	out := bufio.NewWriter(a.stdout)
	showDrill(out, d)
	return out.Flush()
}

// showDrill prints what d asks for and its rep as a grid: a row a panel, a
// column a slot, the foot that plays where the drill has a footing.
func showDrill(out io.Writer, d *drill.Drill) {
	g := d.Grid(0)
	fmt.Fprintf(out, "%s\n", d.Name)
	fmt.Fprintf(out, "layout %s, %g bpm, %d slots a beat: a slot lasts %.1f ms\n", d.Layout.Name, d.BPM, d.PerBeat, g.SlotDuration().Milliseconds())
	fmt.Fprintf(out, "%d reps of %d notes in %d slots, %d beats of rest between reps, %d beats of count-in\n", d.Reps, len(d.Notes), d.Slots, d.RestBeats, d.CountIn())
	if d.Technique != "" {
		fmt.Fprintf(out, "technique %s\n", d.Technique)
	}
	if d.Footing != nil {
		fmt.Fprintf(out, "footing %s\n", d.Spec.Footing)
	} else {
		fmt.Fprintf(out, "footing not given; plain alternation would be %s\n", drill.FootingText(d, footing.Default(d)))
	}
	fmt.Fprintln(out)
	printGrid(out, d)
}

// printGrid prints whole beats, as many as fit 80 columns, block after block.
func printGrid(out io.Writer, d *drill.Drill) {
	foot := make([]byte, len(d.Notes))
	for i := range foot {
		foot[i] = 'o'
	}
	for i := range d.Footing {
		for _, n := range d.Footing[i].NoteIndices() {
			foot[n] = d.Footing[i].Foot.String()[0]
		}
	}
	width := 0
	for _, p := range d.Layout.Panels {
		width = max(width, utf8.RuneCountInString(p.ID))
	}
	perBlock := int64(1)
	for n := perBlock; int64(width)+2+(n*(d.PerBeat+1)) <= 80; n++ {
		perBlock = n
	}
	perBlock *= d.PerBeat
	rows := make([][]byte, len(d.Layout.Panels))
	next := 0 // first note of the block
	held := make([]int64, len(rows))
	for from := int64(0); from < d.Slots; from += perBlock {
		n := min(perBlock, d.Slots-from)
		for p := range rows {
			rows[p] = rows[p][:0]
			for k := range n {
				cell := byte('.')
				if held[p] > from+k {
					cell = '-'
				}
				rows[p] = append(rows[p], cell)
			}
		}
		for ; next < len(d.Notes) && int64(d.Notes[next].Slot) < from+n; next++ {
			note := d.Notes[next]
			k, row := int64(note.Slot)-from, rows[note.Panel]
			row[k] = foot[next]
			held[note.Panel] = int64(note.Slot) + int64(note.Hold)
			for j := k + 1; j < min(n, k+int64(note.Hold)); j++ {
				row[j] = '-'
			}
		}
		if from > 0 {
			fmt.Fprintln(out)
		}
		for p, row := range rows {
			fmt.Fprintf(out, "%*s ", width, d.Layout.ID(pad.Panel(p)))
			for k := int64(0); k < n; k += d.PerBeat {
				fmt.Fprintf(out, "|%s", row[k:min(n, k+d.PerBeat)])
			}
			fmt.Fprintln(out, "|")
		}
	}
	if d.Footing != nil {
		fmt.Fprintln(out, "\nL, R: a note and its foot; -: held; a bar a beat")
	} else {
		fmt.Fprintln(out, "\no: a note; -: held; a bar a beat")
	}
}
