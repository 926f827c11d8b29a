// Package sheet turns what was planned into what is drawn of it: where the outsoles
// stand at each landing, and how long each panel can be expected to be down.
package sheet

import (
	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/view"
)

// Of gives the picture's values of a footing of d, as footing.Plan and
// footing.Check give it for the same body. Which says in words which one it is.
func Of(d *drill.Drill, f *footing.Footing, body footing.Body, which string) *view.Sheet {
	grid := d.Grid(0)
	v := &view.Sheet{Drill: d.Name, Layout: d.Layout, BPM: d.BPM, Which: which, Technique: f.Technique, Notes: len(d.Notes),
		Feasible: f.Feasible, WhyNot: f.WhyNot, MaxTurnDeg: f.MaxTurnDeg, EffortJ: f.EffortJ, Measured: footing.BackingOf(d, f.Contacts, body).Measured(),
		RepLength: grid.Due(1, 0)}
	for b, r := range f.Tempo {
		v.Tempo[b] = view.Tempi(r)
	}
	w := &walker{d: d, f: f, body: &body, grid: &grid, length: v.RepLength}
	w.order()
	v.Landings = w.place()
	v.Downs = w.downs()
	v.Free = free(v.Downs, v.RepLength)
	for i := range v.Landings {
		l := &v.Landings[i]
		l.Free = within(v.Free, around(l.T, v.RepLength), v.RepLength)
	}
	return v
}

// walker goes through the contacts of a footing.
type walker struct {
	d      *drill.Drill
	f      *footing.Footing
	body   *footing.Body
	grid   *drill.Grid
	length pad.Time // of a rep

	landings [][]drill.Contact
	at       []pad.Time // moment of each landing
	aims     []*view.Aim
	feet     [2][]step // contacts of each foot, in order
}

// step is one contact of a foot.
type step struct {
	landing int
	contact *drill.Contact
	at      pad.Time
	x, y    float64 // mm, midway between its panels
}

// order sorts contacts by landing and by foot, and gives each its moment.
func (w *walker) order() {
	for i := range w.f.Contacts {
		c := &w.f.Contacts[i]
		if i == 0 || c.Landing != w.f.Contacts[i-1].Landing {
			w.landings = append(w.landings, nil)
		}
		n := len(w.landings) - 1
		w.landings[n] = append(w.landings[n], *c)
	}
	w.at = make([]pad.Time, len(w.landings))
	w.aims = make([]*view.Aim, len(w.landings))
	for i, contacts := range w.landings {
		first := contacts[0].Notes[0]
		for j := range contacts {
			for _, n := range contacts[j].NoteIndices() {
				if w.d.Notes[n].Slot < w.d.Notes[first].Slot {
					first = n
				}
			}
		}
		w.at[i] = w.due(first)
	}
	for _, a := range w.f.Aims {
		w.aims[a.Landing] = &view.Aim{Band: a.Band.String(), T: a.Aim, Slack: a.Slack}
		w.at[a.Landing] += a.Aim
	}
	for i, contacts := range w.landings {
		for j := range contacts {
			c := &contacts[j]
			s := step{landing: i, contact: c, at: w.at[i]}
			for _, n := range c.NoteIndices() {
				x, y := w.d.Layout.Panels[w.d.Notes[n].Panel].Rect.Centre()
				s.x, s.y = s.x+x/float64(len(c.NoteIndices())), s.y+y/float64(len(c.NoteIndices()))
			}
			w.feet[c.Foot] = append(w.feet[c.Foot], s)
		}
	}
}

func (w *walker) due(note int32) pad.Time { return w.grid.Due(0, int64(w.d.Notes[note].Slot)) }

func (w *walker) panels(c *drill.Contact) (s pad.PanelSet) {
	for _, n := range c.NoteIndices() {
		s = s.With(w.d.Notes[n].Panel)
	}
	return s
}
