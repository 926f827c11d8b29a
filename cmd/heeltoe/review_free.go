package main

import (
	"bufio"
	"encoding/json"
	"fmt"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/input/record"
	"heeltoe/trainer/view"
)

// freePress is a press as it is read without a drill.
type freePress struct {
	T       view.Moment `json:"t"` // as the pad gave it
	Panel   string      `json:"panel"`
	Down    view.Moment `json:"down_us"` // how long; null: not let go
	Foot    string      `json:"foot"`
	Contact string      `json:"contact"`
	With    *int        `json:"with"`   // the other press of its bracket or roll, by its place
	Stray   bool        `json:"stray"`  // no foot's: the panel was brushed
	Bounce  bool        `json:"bounce"` // the switch bounced
	P       float64     `json:"p"`      // of the contact, and of the foot relative to the press before
}

// runFree prints the feet of a log as they are read with no drill to go by.
func (c *reviewCmd) runFree(a *app) error {
	l, err := record.ReadLog(c.Log)
	if err != nil {
		return err
	}
	gather := read.Collector{Debounce: l.Header.Debounce}
	for _, e := range l.Edges {
		gather.Feed(e)
	}
	var presses []pad.Press
	for _, p := range gather.Presses() {
		presses = append(presses, p.Press)
	}
	layout := l.Drill.Layout
	rows := make([]freePress, 0, len(presses))
	for _, t := range read.Free(layout, presses) {
		row := freePress{T: view.Moment(t.Down), Panel: layout.ID(t.Panel), Down: view.Moment(pad.Never), Foot: t.Foot.String(), Contact: t.Kind.String(), Stray: t.Stray, Bounce: t.Bounce, P: t.P}
		if t.Up != pad.Never {
			row.Down = view.Moment(t.Up - t.Down)
		}
		if t.With != read.None {
			row.With = &t.With
		}
		rows = append(rows, row)
	}
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		if err := json.NewEncoder(w).Encode(map[string]any{"presses": rows}); err != nil {
			return err
		}
		return w.Flush()
	}
	fmt.Fprintln(w, "Feet with no drill to go by. Which is the left one is told by how a body stands: who crosses the feet is read mirrored. p is about contact and turn, not about left or right.")
	table(w, "press at,ms panel down,ms foot contact with p", func(row func(...any)) {
		for i := range rows {
			r := &rows[i]
			with := "–"
			if r.With != nil {
				with = fmt.Sprint(*r.With + 1)
			}
			foot, contact := r.Foot, r.Contact
			switch {
			case r.Stray:
				foot, contact = "–", "stray"
			case r.Bounce:
				contact = "bounce"
			}
			row(i+1, size(moment(r.T)), r.Panel, size(moment(r.Down)), foot, contact, with, fmt.Sprintf("%.2f", r.P))
		}
	})
	return w.Flush()
}
