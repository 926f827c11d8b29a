package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/google/renameio/v2"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/render"
	"heeltoe/render/pdf"
	"heeltoe/trainer/sheet"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// planPictures is where pictures of a plan go and how they look.
type planPictures struct {
	Pictures string `placeholder:"DIR" help:"Draw each footing, or what --over finds, for print: SVG and PNG of every page, and one PDF of all."`
	Theme    string `default:"print" enum:"print,light,dark" help:"Colours of the pictures: print (black and white), light or dark."`
}

// sketch is something to draw on pages.
type sketch struct {
	name  string // of its files, without their number and ending
	title string
	text  string // what it shows, for those who do not see it
	pages int
	draw  func(s *render.Screen, c render.Canvas, page int)
}

// drawFootings draws a plan's footings, and the one that is written in the drill.
func (p *planPictures) drawFootings(a *app, r *planRequest, footings []*footing.Footing, force bool) error {
	slug := store.Slug(r.drill.Name)
	var all []sketch
	add := func(f *footing.Footing, name, which string) {
		v := sheet.Of(r.drill, f, r.body, which)
		all = append(all, sketch{name: slug + "-" + name + "-" + f.Technique, title: r.drill.Name + ", " + which,
			text:  f.Technique + ": " + drill.FootingText(r.drill, f.Contacts) + ". " + view.Caution,
			pages: new(render.Screen).SheetPages(render.PageWidth, render.PageHeight, v),
			draw: func(s *render.Screen, c render.Canvas, page int) {
				s.Sheet(c, render.PageWidth, render.PageHeight, v, page)
			}})
	}
	if r.drill.Footing != nil {
		f, err := footing.Check(r.drill, r.drill.Footing, r.body, r.windows)
		if err != nil {
			return err
		}
		add(f, "written", "footing written in the drill")
	}
	for i, f := range footings {
		add(f, fmt.Sprintf("%02d", i+1), fmt.Sprintf("footing %d of %d", i+1, len(footings)))
	}
	return p.save(a, slug, r.drill.Name, all, force)
}

// drawRanges draws which footing works, and is the easiest, at which tempo.
func (p *planPictures) drawRanges(a *app, v *view.Ranges, force bool) error {
	name := store.Slug(v.Drill) + "-over"
	return p.save(a, name, v.Drill, []sketch{{name: name, title: v.Drill + ", which footing at which tempo", text: rangesText(v),
		pages: new(render.Screen).RangesPages(render.PageWidth, render.PageHeight, v),
		draw: func(s *render.Screen, c render.Canvas, page int) {
			s.Ranges(c, render.PageWidth, render.PageHeight, v, page)
		}}}, force)
}

// rangesText says which footing is the easiest at which tempo.
func rangesText(v *view.Ranges) string {
	var b strings.Builder
	for _, r := range v.Rows {
		for _, e := range r.Easiest {
			fmt.Fprintf(&b, "%g to %g bpm: %s, %s. ", e.Slowest, e.Fastest, r.Technique, r.Text)
		}
	}
	return b.String() + view.Caution
}

// picture is a page as a file.
type picture struct {
	sketch *sketch
	page   int
	file   string // without its ending
}

// save draws every page as SVG and PNG, and all of them as one PDF of the name given.
// Nothing is written where one of the files is there, unless by force.
func (p *planPictures) save(a *app, name, title string, sketches []sketch, force bool) error {
	var pages []picture
	document := filepath.Join(p.Pictures, name+".pdf")
	files := []string{document}
	for i := range sketches {
		k := &sketches[i]
		for page := range k.pages {
			file := filepath.Join(p.Pictures, k.name)
			if k.pages > 1 {
				file += fmt.Sprintf("-page-%d", page+1)
			}
			pages = append(pages, picture{k, page, file})
			files = append(files, file+".svg", file+".png")
		}
	}
	if len(pages) == 0 {
		return nil
	}
	if err := p.room(files, force); err != nil {
		return err
	}
	screen := &render.Screen{Theme: map[string]*render.Theme{"print": render.Print, "light": render.Light, "dark": render.Dark}[p.Theme]}
	d := pdf.New(title)
	for _, k := range pages {
		if err := a.ctx.Err(); err != nil {
			return err
		}
		k.sketch.draw(screen, d.Page(render.PageWidth, render.PageHeight), k.page)
		svg := render.NewSVG(render.PageWidth, render.PageHeight, k.sketch.title, k.sketch.text)
		k.sketch.draw(screen, svg, k.page)
		png := render.NewPicture(render.PageWidth, render.PageHeight)
		k.sketch.draw(screen, png, k.page)
		if err := writeWhole(k.file+".svg", svg.WriteTo); err != nil {
			return err
		}
		if err := writeWhole(k.file+".png", func(w io.Writer) (int64, error) { return 0, png.PNG(w) }); err != nil {
			return err
		}
	}
	return writeWhole(document, d.WriteTo)
}

// room makes the folder, and refuses where a file is in the way.
func (p *planPictures) room(files []string, force bool) error {
	if i, err := os.Stat(p.Pictures); err == nil && !i.IsDir() {
		return &pad.BadInput{File: p.Pictures, Msg: "is not a folder; --pictures names one, and makes it if it is not there"}
	}
	if !force {
		for _, f := range files {
			if _, err := os.Lstat(f); !errors.Is(err, fs.ErrNotExist) {
				return &pad.BadInput{File: f, Msg: "is there already; --force replaces it"}
			}
		}
	}
	return os.MkdirAll(p.Pictures, 0o755)
}

// writeWhole writes a file so that it is there in whole or not at all.
func writeWhole(file string, write func(w io.Writer) (int64, error)) error {
	var b bytes.Buffer
	if _, err := write(&b); err != nil {
		return err
	}
	return renameio.WriteFile(file, b.Bytes(), 0o644)
}
