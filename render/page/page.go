// Package page makes report pages: one HTML file that holds everything it shows,
// for a run, for two runs side by side, or for a drill over weeks. It has no
// scripts and asks nothing of the network; plots are inline SVG with a title, units
// and words for those who do not see them, and their figures stand in tables.
package page

import (
	_ "embed"
	"fmt"
	"html/template"
	"image/color"
	"io"
	"strings"

	"heeltoe/render"
	"heeltoe/trainer/view"
)

//go:embed page.html
var source string

var page = template.Must(template.New("page").Funcs(template.FuncMap{"grey": grey}).Parse(source))

// document is what the template shows.
type document struct {
	Title    string
	Lead     string
	Colours  template.CSS
	Caution  string
	Beside   *table // two runs, figure by figure
	Sections []section
	plots    int
}

// section is a run, or a group of runs.
type section struct {
	Title   string
	Lead    []string
	Facts   []fact
	Figures []figure
	Tables  []table
}

// fact is a figure with its unit, how sure it is, and what it means.
type fact struct{ Name, Value, Sure, Means string }

// figure is a plot with what is written about it.
type figure struct {
	Title string
	SVG   template.HTML
	Wide  bool // needs the whole width
	Feet  bool // its legend tells the feet apart
	Notes []string
}

// table has figures in words.
type table struct {
	Title string
	Head  []string
	Rows  [][]string
}

// add puts a plot into a section.
func (d *document) add(s *section, p *plot, f figure) {
	d.plots++
	f.Title, f.SVG = p.title, p.html(d.plots)
	s.Figures = append(s.Figures, f)
}

// write writes the page.
func (d *document) write(w io.Writer) error {
	d.Colours, d.Caution = colours(), view.CautionLong
	return page.Execute(w, d)
}

// Run writes the page of a run.
func Run(w io.Writer, r *view.Played) error {
	d := &document{Title: r.Report.Drill + ", " + when(r.Started)}
	d.Sections = []section{d.run(r)}
	d.Sections[0].Title = "The run"
	return d.write(w)
}

// Pair writes the page of two runs side by side.
func Pair(w io.Writer, a, b *view.Played) error {
	d := &document{Title: a.Report.Drill + ": two runs"}
	if a.Report.Drill != b.Report.Drill {
		d.Title = a.Report.Drill + " and " + b.Report.Drill
	}
	d.Sections = []section{d.run(a), d.run(b)}
	d.Beside = &table{Title: "Side by side", Head: []string{"", d.Sections[0].Title, d.Sections[1].Title}}
	for i, f := range d.Sections[0].Facts { // of both in the same order
		g := d.Sections[1].Facts[i]
		d.Beside.Rows = append(d.Beside.Rows, []string{f.Name, strings.TrimSpace(f.Value + " " + f.Sure), strings.TrimSpace(g.Value + " " + g.Sure)})
	}
	return d.write(w)
}

// Drill writes the page of a drill over weeks.
func Drill(w io.Writer, name string, p *view.Progress) error {
	d := &document{Title: name + ", week by week",
		Lead: "Like is compared with like: one side, technique, footing, player, pad, shoes, hands on the bar and windows, and tempi within ten beats a minute."}
	if p.Undated > 0 {
		d.Lead += fmt.Sprintf(" Runs left out, since their logs do not say when they were played: %d.", p.Undated)
	}
	d.Sections = append(d.Sections, short(p.Groups))
	for i := range p.Limits {
		if len(p.Limits[i].Ways) > 0 {
			d.Sections = append(d.Sections, d.limits(&p.Limits[i]))
		}
	}
	if p.Recovery != nil {
		d.Sections = append(d.Sections, recovery(p.Recovery))
	}
	if s, ok := d.tempi(p.Groups); ok {
		d.Sections = append(d.Sections, s)
	}
	shown := 0
	for i := range p.Groups {
		if p.Groups[i].Runs >= leastRuns {
			d.Sections = append(d.Sections, d.group(&p.Groups[i]))
			shown++
		}
	}
	if shown == 0 && len(p.Groups) > 0 { // of one who has just begun
		d.Sections = append(d.Sections, d.group(&p.Groups[0]))
	}
	return d.write(w)
}

// colours gives the colours of both themes as custom properties of CSS.
func colours() template.CSS {
	var b strings.Builder
	one := func(t *render.Theme) {
		for _, c := range []struct {
			name string
			c    color.RGBA
		}{{"ground", t.Ground}, {"paper", t.Paper}, {"ink", t.Ink}, {"soft", t.Soft}, {"mark", t.Mark}, {"grid", t.Grid}, {"beat", t.Beat},
			{"win0", t.Window[0]}, {"win1", t.Window[1]}, {"win2", t.Window[2]}, {"left", t.Foot[0]}, {"right", t.Foot[1]}, {"any", t.Any}} {
			fmt.Fprintf(&b, "--%s:#%02x%02x%02x;", c.name, c.c.R, c.c.G, c.c.B)
		}
	}
	b.WriteString(":root{color-scheme:light dark;")
	one(render.Light)
	b.WriteString("}@media (prefers-color-scheme:dark){:root{")
	one(render.Dark)
	b.WriteString("}}@media print{:root{")
	one(render.Print)
	b.WriteString("}}")
	return template.CSS(b.String())
}
