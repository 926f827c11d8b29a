package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

type drillsCmd struct {
	List    drillsListCmd    `cmd:"" help:"List the built-in drills."`
	Show    drillsShowCmd    `cmd:"" help:"Show a drill panel by panel."`
	Capture drillsCaptureCmd `cmd:"" help:"Take down a pattern stomped on the pad as a drill file."`
}

// drillFlags choose what is played, and how it is changed.
type drillFlags struct {
	Drill   string  `arg:"" help:"Built-in drill (see heeltoe drills list) or drill file."`
	Mirror  bool    `help:"Left and right exchanged."`
	Reverse bool    `help:"From the end to the start."`
	Within  bool    `help:"Wrapped in notes that lead in and out."`
	BPM     float64 `name:"bpm" help:"Tempo in beats a minute, instead of the drill's."`
	Reps    int64   `help:"Number of reps, instead of the drill's."`
}

// load gives the drill as the flags change it.
func (f *drillFlags) load() (*drill.Drill, error) {
	d, err := loadDrill(f.Drill, f.Mirror, f.Reverse, f.Within)
	if err != nil {
		return nil, err
	}
	if f.BPM != 0 {
		if d, err = d.WithTempo(f.BPM); err != nil {
			return nil, usagef("--%v", err)
		}
	}
	if f.Reps != 0 {
		if d, err = d.WithReps(f.Reps); err != nil {
			return nil, usagef("--%v", err)
		}
	}
	return d, nil
}

// loadDrill gives a built-in drill by its id, or reads a drill file where ref
// has a path separator or ends in .toml, changed as asked.
func loadDrill(ref string, mirror, reverse, within bool) (*drill.Drill, error) {
	var d *drill.Drill
	var err error
	if strings.HasSuffix(ref, ".toml") || strings.ContainsAny(ref, `/`+string(filepath.Separator)) {
		d, err = drill.ReadFile(ref)
	} else if d, err = drills.Load(ref); err != nil {
		err = unknownDrill(ref)
	}
	if err != nil {
		return nil, err
	}
	for _, change := range []struct {
		wanted bool
		flag   string
		f      func(*drill.Drill) (*drill.Drill, error)
	}{
		{mirror, "--mirror", (*drill.Drill).Mirror},
		{reverse, "--reverse", (*drill.Drill).Reverse},
		{within, "--within", drills.Within},
	} {
		if !change.wanted {
			continue
		}
		if d, err = change.f(d); err != nil {
			return nil, usagef("%s: %v", change.flag, err)
		}
	}
	return d, nil
}

// unknownDrill names the drills whose ids are near to id, or begin or contain it.
func unknownDrill(id string) error {
	hint := "heeltoe drills list shows them all; a drill file ends in .toml or has a / in its path"
	if _, err := os.Stat(id); err == nil {
		return usagef("there is no built-in drill %q; to read the file of that name write ./%s", id, id)
	}
	type near struct {
		id       string
		distance int
	}
	var all []near
	for _, e := range drills.List() {
		n := editDistance(id, e.ID)
		if id != "" && (strings.Contains(e.ID, id) || strings.Contains(id, e.ID)) {
			n = min(n, 2)
		}
		if n <= max(2, utf8.RuneCountInString(id)/3) {
			all = append(all, near{e.ID, n})
		}
	}
	slices.SortStableFunc(all, func(a, b near) int { return a.distance - b.distance })
	if len(all) == 0 {
		return usagef("there is no built-in drill %q; %s", id, hint)
	}
	var ids []string
	for _, n := range all[:min(len(all), 5)] {
		ids = append(ids, n.id)
	}
	return usagef("there is no built-in drill %q; near to it: %s; %s", id, strings.Join(ids, ", "), hint)
}

// editDistance counts the letters to insert, delete or replace to make b of a.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			above := row[j+1]
			if a[i] != b[j] {
				diagonal++
			}
			row[j+1] = min(diagonal, above+1, row[j]+1)
			diagonal = above
		}
	}
	return row[len(b)]
}

type drillsListCmd struct {
	JSON bool `name:"json" help:"Print a JSON array instead of a table."`
}

// Run lists the library.
func (c *drillsListCmd) Run(a *app) error {
	if c.JSON {
		enc := json.NewEncoder(a.stdout)
		enc.SetEscapeHTML(false)
		return enc.Encode(drills.List())
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
	d, err := loadDrill(c.Drill, c.Mirror, c.Reverse, c.Within)
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
