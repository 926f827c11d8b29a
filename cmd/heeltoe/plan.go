package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/google/renameio/v2"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/sheet"
	"heeltoe/trainer/view"
)

type planCmd struct {
	practice.DrillChoice
	practice.BodyChoice

	Windows string `placeholder:"E/L,E/L,E/L" help:"Early/late bounds in ms of inner, middle and outer, such as 40/50,70/90,105/135."`
	Count   int    `default:"10" help:"How many footings, at most."`

	Quiet      bool     `help:"Only footings without panel-free time, for quiet practice."`
	NoLongShoe bool     `name:"no-long-shoe" help:"Only footings without brackets and rolls that want long feet."`
	MaxTurn    float64  `name:"max-turn" placeholder:"DEG" help:"Only footings that turn the hips no further, in degrees."`
	Foot       []string `placeholder:"PANEL=FOOT" help:"Only footings that play this panel by this foot, such as sw=L; can be given again."`

	Over string `placeholder:"FROM..TO" help:"Show which footing is the easiest that works in which tempo range, such as 80..300."`

	planPictures

	JSON  bool   `name:"json" help:"Print one JSON object instead of tables."`
	Write int    `placeholder:"N" help:"Write the drill with the footing of this number as a drill file; needs --out."`
	Out   string `placeholder:"FILE" help:"Drill file to write, ending in .toml."`
	Force bool   `help:"Replace files that are there."`
}

// Help is shown by plan --help.
func (c *planCmd) Help() string {
	return `Lists ways in which two feet can play a drill, the easiest that works first, and from
which to which tempo each works. One landing's contacts stand in parentheses; & is a
bracket (one foot on two panels at once), > a roll (on two in turn).

    tempo    slowest tempo at which all notes can be inner, middle or outer, since notes
             that are struck at once must not lie too far apart, and the fastest tempo
    turn     the largest angle between the hips and straight ahead, in degrees
    load     how hard it is at this tempo, without a unit; it orders the list
    effort   rough estimate of the work of moving the legs for one rep, in joules
    aim      when a landing that gathers notes should come down, in ms after the first of
             them is due; slack is how far it may stray before a note leaves the band

Limits of the body are defaults until they are measured: heeltoe limits DRILL --store keeps the
times of yours, heeltoe pads reach the pairs of panels that your feet press at once. A table at the
end says of each figure where it comes from.

` + view.CautionLong
}

// Run plans the drill.
func (c *planCmd) Run(a *app) error {
	d, err := c.Load()
	if err != nil {
		return err
	}
	r := planRequest{drill: d, windows: drill.DefaultWindows}
	if err := c.request(&r); err != nil {
		return err
	}
	for _, why := range r.whose.LeftOut {
		a.warn("%s: it is left out", why)
	}
	if c.Over != "" {
		return c.over(a, &r)
	}
	footings, err := footing.Plan(d, r.body, r.windows, r.filter, c.Count)
	if err != nil {
		return usagef("%v", err)
	}
	if c.Write != 0 {
		return c.write(a, d, footings)
	}
	if c.Pictures != "" {
		if err := c.drawFootings(a, &r, footings, c.Force); err != nil {
			return err
		}
	}
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		if err := writeJSON(w, planJSON(&r, footings)); err != nil {
			return err
		}
		return w.Flush()
	}
	if err := printPlan(w, &r, footings); err != nil {
		return err
	}
	return w.Flush()
}

// planRequest is what is planned for whom.
type planRequest struct {
	drill   *drill.Drill
	whose   *practice.Body
	body    footing.Body // of whose
	windows drill.Windows
	filter  footing.Filter
}

// request reads the flags.
func (c *planCmd) request(r *planRequest) error {
	windows, err := practice.ParseWindows(c.Windows)
	if err != nil {
		return err
	}
	if windows != nil {
		r.windows = *windows
	}
	if r.whose, err = c.Body(); err != nil {
		return err
	}
	r.whose.On(r.drill.Layout, c.Pad != "")
	r.body = r.whose.Body
	switch {
	case c.Count < 1 || c.Count > footing.MaxCount:
		return usagef("--count: %d is not from 1 to %d", c.Count, footing.MaxCount)
	case !(c.MaxTurn >= 0 && c.MaxTurn <= 180):
		return usagef("--max-turn: %v is not from 0 to 180 degrees", c.MaxTurn)
	case c.Write < 0 || c.Write > c.Count:
		return usagef("--write: there is no footing number %d; --count %d lists 1 to %d", c.Write, c.Count, c.Count)
	case (c.Write == 0) != (c.Out == ""):
		return usagef("--write and --out go together: the number of a footing and the drill file to write it into")
	case c.Out != "" && !strings.HasSuffix(c.Out, ".toml"):
		return usagef("--out: %s: a drill file ends in .toml", c.Out)
	case c.Write != 0 && (c.JSON || c.Over != ""), c.JSON && c.Over != "":
		return usagef("--write, --json and --over are three different things: give one of them")
	case c.Write != 0 && c.Pictures != "":
		return usagef("--write and --pictures are two different things: give one of them")
	}
	r.filter = footing.Filter{Quiet: c.Quiet, NoLongShoe: c.NoLongShoe, MaxTurnDeg: c.MaxTurn}
	for _, text := range c.Foot {
		p, foot, err := parseFoot(r.drill.Layout, text)
		if err != nil {
			return err
		}
		if r.filter.Foot == nil {
			r.filter.Foot = make(map[pad.Panel]pad.Foot)
		}
		if was, ok := r.filter.Foot[p]; ok && was != foot {
			return usagef("--foot: panel %s is given to both feet", r.drill.Layout.ID(p))
		}
		r.filter.Foot[p] = foot
	}
	return nil
}

// parseFoot reads PANEL=L or PANEL=R.
func parseFoot(l *pad.Layout, text string) (pad.Panel, pad.Foot, error) {
	id, foot, ok := strings.Cut(text, "=")
	p, known := l.Lookup(id)
	switch {
	case !ok || foot != "L" && foot != "R":
		return 0, 0, usagef("--foot: %q is not a panel and its foot, such as %s=L", text, l.ID(0))
	case !known:
		return 0, 0, usagef("--foot: %q is not a panel of the layout %s; it has %s", id, l.Name, l.IDs(1<<len(l.Panels)-1, " "))
	case foot == "L":
		return p, pad.Left, nil
	}
	return p, pad.Right, nil
}

// parseOver reads two tempi, FROM..TO.
func parseOver(text string) (from, to float64, err error) {
	a, b, ok := strings.Cut(text, "..")
	from, err1 := strconv.ParseFloat(a, 64)
	to, err2 := strconv.ParseFloat(b, 64)
	if !ok || err1 != nil || err2 != nil || !(from >= drill.MinBPM && to <= drill.MaxBPM && from <= to) {
		return 0, 0, usagef("--over: %q is not two tempi from %g to %g, the slower first, such as 80..300", text, drill.MinBPM, drill.MaxBPM)
	}
	return from, to, nil
}

// over prints which footing is the easiest in which tempo range.
func (c *planCmd) over(a *app, r *planRequest) error {
	from, to, err := parseOver(c.Over)
	if err != nil {
		return err
	}
	stretches, err := footing.Over(r.drill, r.body, r.windows, r.filter, from, to)
	if err != nil {
		return usagef("%v", err)
	}
	if c.Pictures != "" {
		if err := c.drawRanges(a, sheet.Ranges(r.drill, stretches, r.body, from, to), c.Force); err != nil {
			return err
		}
	}
	w := bufio.NewWriter(a.stdout)
	fmt.Fprintf(w, "%s: the easiest footing that works, from %g to %g beats a minute; shoe %g mm\n\n", r.drill.Name, from, to, r.body.ShoeMM)
	columns(w, "from\tto\ttechnique\tturn\tlimits\tfooting", func(row func(...any)) {
		for _, s := range stretches {
			if s.Footing == nil {
				row(fmt.Sprintf("%g", s.Slowest), fmt.Sprintf("%g", s.Fastest), "–", "–", "–", "none works")
				continue
			}
			row(fmt.Sprintf("%g", s.Slowest), fmt.Sprintf("%g", s.Fastest), s.Footing.Technique, degrees(s.Footing.MaxTurnDeg), backing(r, s.Footing),
				drill.FootingText(r.drill, s.Footing.Contacts))
		}
	})
	printBody(w, r.whose)
	fmt.Fprintln(w, view.Caution)
	return w.Flush()
}

// write writes the drill with one of the footings.
func (c *planCmd) write(a *app, d *drill.Drill, footings []*footing.Footing) error {
	if c.Write > len(footings) {
		return usagef("--write: there is no footing number %d, only %d are found", c.Write, len(footings))
	}
	f := footings[c.Write-1]
	d, err := d.WithFooting(f.Contacts, f.Technique)
	if err != nil {
		return err
	}
	text, err := d.Spec.MarshalTOML()
	if err != nil {
		return err
	}
	if !c.Force {
		if _, err := os.Lstat(c.Out); !errors.Is(err, fs.ErrNotExist) {
			return &pad.BadInput{File: c.Out, Msg: "is there already; --force replaces it"}
		}
	}
	if err := renameio.WriteFile(c.Out, text, 0o644); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s: %s, %s\n", c.Out, d.Spec.Technique, d.Spec.Footing)
	return nil
}

// columns aligns columns to the left, under the head given, and prints nothing where
// there is no row.
func columns(w io.Writer, head string, rows func(row func(cells ...any))) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	headed := false
	rows(func(cells ...any) {
		if !headed {
			fmt.Fprintln(t, head)
			headed = true
		}
		for i, c := range cells {
			if i > 0 {
				fmt.Fprint(t, "\t")
			}
			fmt.Fprint(t, c)
		}
		fmt.Fprintln(t)
	})
	t.Flush()
	if headed {
		fmt.Fprintln(w)
	}
}

func degrees(d float64) string { return fmt.Sprintf("%.0f°", d) }

// planFile is the object that plan --json prints.
type planFile struct {
	Drill    string        `json:"drill"`
	BPM      float64       `json:"bpm"`
	Footings []planFooting `json:"footings"`
	Body     *planBody     `json:"body,omitempty"` // nil where only defaults speak
}

type planFooting struct {
	Technique  string        `json:"technique"`
	Feasible   bool          `json:"feasible"`
	EffortJ    float64       `json:"effort_j"`
	Landings   int           `json:"landings"`
	MaxTurnDeg float64       `json:"max_turn_deg"`
	Tempo      planTempo     `json:"tempo"`
	Contacts   []planContact `json:"contacts"`
	Aims       []planAim     `json:"aims"`
	WhyNot     []string      `json:"why_not"`
}

// planTempo has the slowest and the fastest tempo of each band, nil where there is none.
type planTempo struct {
	Inner  []float64 `json:"inner"`
	Middle []float64 `json:"middle"`
	Outer  []float64 `json:"outer"`
}

type planContact struct {
	Notes   []int32  `json:"notes"`
	Foot    string   `json:"foot"`
	Panels  []string `json:"panels"`
	Kind    string   `json:"kind"`
	Landing int      `json:"landing"`
}

type planAim struct {
	Landing int      `json:"landing"`
	Band    *string  `json:"band"` // nil where the notes lie too far apart for any
	Aim     pad.Time `json:"aim_us"`
	Slack   pad.Time `json:"slack_us"`
}

func planJSON(r *planRequest, footings []*footing.Footing) *planFile {
	d := r.drill
	p := &planFile{Drill: d.Name, BPM: d.BPM, Footings: []planFooting{}, Body: bodyJSON(r.whose)}
	for _, f := range footings {
		j := planFooting{Technique: f.Technique, Feasible: f.Feasible, EffortJ: round(f.EffortJ, 10), Landings: f.Landings,
			MaxTurnDeg: round(f.MaxTurnDeg, 10), Tempo: planTempo{tempoJSON(f.Tempo[drill.Inner]), tempoJSON(f.Tempo[drill.Middle]), tempoJSON(f.Tempo[drill.Outer])},
			Aims: []planAim{}, WhyNot: append([]string{}, f.WhyNot...)}
		for i := range f.Contacts {
			c := &f.Contacts[i]
			k := planContact{Notes: c.NoteIndices(), Foot: c.Foot.String(), Kind: c.Kind.String(), Landing: c.Landing}
			for _, n := range c.NoteIndices() {
				k.Panels = append(k.Panels, d.Layout.ID(d.Notes[n].Panel))
			}
			j.Contacts = append(j.Contacts, k)
		}
		for _, a := range f.Aims {
			k := planAim{Landing: a.Landing, Aim: a.Aim, Slack: a.Slack}
			if a.Band != drill.Absent {
				band := a.Band.String()
				k.Band = &band
			}
			j.Aims = append(j.Aims, k)
		}
		p.Footings = append(p.Footings, j)
	}
	return p
}

// tempoJSON gives a range to a thousandth, rounded inwards.
func tempoJSON(r footing.Range) []float64 {
	if r.None() {
		return nil
	}
	const eps = 1e-6 // of a thousandth: what a sum is off by
	return []float64{math.Ceil(r.Slowest*1000-eps) / 1000, math.Floor(r.Fastest*1000+eps) / 1000}
}

// round rounds to one part in per.
func round(v, per float64) float64 { return math.Round(v*per) / per }

// printPlan prints the footing that is written in the drill, and those planned.
func printPlan(w io.Writer, r *planRequest, footings []*footing.Footing) error {
	d := r.drill
	fmt.Fprintf(w, "%s: layout %s, %g beats a minute, %d slots a beat; shoe %g mm\n", d.Name, d.Layout.Name, d.BPM, d.PerBeat, r.body.ShoeMM)
	if len(footings) == 0 {
		fmt.Fprintln(w, "No footing passes these filters.")
	}
	type numbered struct {
		number string
		*footing.Footing
	}
	var all []numbered
	if d.Footing != nil {
		f, err := footing.Check(d, d.Footing, r.body, r.windows)
		if err != nil {
			return err
		}
		all = append(all, numbered{"written in the drill", f})
	}
	for i, f := range footings {
		all = append(all, numbered{strconv.Itoa(i + 1), f})
	}
	fmt.Fprintln(w)
	columns(w, "no.\ttechnique\tworks\tinner\tmiddle\touter\tto\tturn\tload\teffort\tfooting", func(row func(...any)) {
		for _, f := range all {
			works := "yes"
			if !f.Feasible {
				works = "no"
			}
			cells := []any{f.number, f.Technique, works}
			fastest := "–"
			for _, t := range f.Tempo {
				if t.None() {
					cells = append(cells, "–")
				} else {
					cells = append(cells, fmt.Sprintf("%.1f", t.Slowest))
					fastest = fmt.Sprintf("%.1f", t.Fastest)
				}
			}
			row(append(cells, fastest, degrees(f.MaxTurnDeg), fmt.Sprintf("%.1f", f.Load), fmt.Sprintf("%.0f J", f.EffortJ), drill.FootingText(d, f.Contacts))...)
		}
	})
	for _, f := range all {
		for _, why := range f.WhyNot {
			fmt.Fprintf(w, "%s does not work: %s\n", f.number, why)
		}
	}
	columns(w, "no.\tlanding\tband\taim, ms\tslack, ms", func(row func(...any)) {
		for _, f := range all {
			for _, a := range f.Aims {
				if a.Band == drill.Absent {
					row(f.number, a.Landing, "none", "–", "–")
					continue
				}
				row(f.number, a.Landing, a.Band, fmt.Sprintf("%+.1f", a.Aim.Milliseconds()), fmt.Sprintf("±%.1f", a.Slack.Milliseconds()))
			}
		}
	})
	fmt.Fprintln(w, "inner, middle, outer: slowest tempo at which all notes can be in the band; to: the fastest.")
	fmt.Fprintln(w)
	printBody(w, r.whose)
	fmt.Fprintln(w, view.Caution)
	return nil
}
