package sheet

import (
	"math"
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/view"
)

// stand is where a foot is and what it holds.
type stand struct {
	view.Outsole
	over pad.PanelSet // 0: somewhere unseen
	held []hold
}

// hold is a note that a foot keeps down, to a moment of the loop.
type hold struct {
	panel pad.Panel
	end   pad.Time
}

// place gives the landings with their feet: those that come down, and where
// the others last stood, in the rep before where there was no contact yet. A foot of
// which the other one took a panel is somewhere unseen.
//
// A foot that steps while it holds a note lies over both panels, or, where they are too
// far apart, gives the held one to the other foot.
func (w *walker) place() []view.SheetLanding {
	out := make([]view.SheetLanding, len(w.landings))
	var feet [2]stand
	facing := 0.0
	// Round the loop twice, since the end leads into the start.
	for turn := range pad.Time(2) {
		for i, contacts := range w.landings {
			if i < len(w.f.FacingDeg) && !math.IsNaN(w.f.FacingDeg[i]) {
				facing = w.f.FacingDeg[i]
			}
			l := view.SheetLanding{T: w.at[i], Aim: w.aims[i]}
			now := w.at[i] + turn*w.length
			var landing [2]bool
			var taken pad.PanelSet
			for j := range contacts {
				landing[contacts[j].Foot] = true
				taken |= w.panels(&contacts[j])
			}
			for j := range contacts {
				c := &contacts[j]
				foot, other := &feet[c.Foot], &feet[c.Foot.Other()]
				k := view.SheetContact{Kind: c.Kind.String()}
				over := w.panels(c)
				foot.held = slices.DeleteFunc(foot.held, func(h hold) bool { return h.end <= now || over.Has(h.panel) })
				if len(foot.held) == 1 && c.Kind == drill.Step {
					h := foot.held[0]
					switch {
					case w.reaches(h.panel, over):
						over = over.With(h.panel)
						k.Keeps = []pad.Panel{h.panel}
					case !landing[c.Foot.Other()]:
						*other = stand{w.outsole(c.Foot.Other(), pad.SetOf(h.panel), facing), pad.SetOf(h.panel), []hold{h}}
					}
				}
				if k.Keeps == nil {
					foot.held = nil
				}
				foot.Outsole, foot.over = w.outsole(c.Foot, over, facing), over
				k.Outsole = foot.Outsole
				for _, n := range c.NoteIndices() {
					note := w.d.Notes[n]
					k.Panels = append(k.Panels, note.Panel)
					k.Notes = append(k.Notes, int(n))
					if note.Hold > 0 {
						foot.held = append(foot.held, hold{note.Panel, w.grid.Due(int64(turn), int64(note.Slot)+int64(note.Hold))})
					}
				}
				l.Contacts = append(l.Contacts, k)
			}
			for f := range feet {
				if landing[f] {
					continue
				}
				if feet[f].over&taken != 0 {
					feet[f] = stand{}
				}
				if feet[f].over != 0 {
					l.Resting = append(l.Resting, feet[f].Outsole)
				}
			}
			out[i] = l
		}
	}
	return out
}

// reaches tells whether an outsole is long enough for panel p and the panel of over.
func (w *walker) reaches(p pad.Panel, over pad.PanelSet) bool {
	a := w.d.Layout.Panels[p].Rect
	for q := range over.All() {
		b := w.d.Layout.Panels[q].Rect
		dx := max(a.X0-b.X1, b.X0-a.X1, 0)
		dy := max(a.Y0-b.Y1, b.Y0-a.Y1, 0)
		if math.Hypot(float64(dx), float64(dy))+2*w.body.CoverMM > w.body.ShoeMM {
			return false
		}
	}
	return true
}

// fairShare is the share of an outsole on each of two panels above which more makes no
// difference; a degree by which toes turn from straight ahead weighs as much as
// perDegree of it. So drawn feet press clearly and yet stand as people stand.
const (
	fairShare = 1.0 / 3
	perDegree = 1.0 / 360
)

// outsole gives how a foot stands on panels, the hips turned to facing: midway
// between its panels' centres, its toes as near to straight ahead as the hips allow; on
// two panels a fair share of it on each is weighed against that.
func (w *walker) outsole(f pad.Foot, panels pad.PanelSet, facing float64) view.Outsole {
	o := view.Outsole{Foot: f, LengthMM: w.body.ShoeMM, WidthMM: w.body.ShoeWidthMM}
	for p := range panels.All() {
		x, y := w.d.Layout.Panels[p].Rect.Centre()
		o.X, o.Y = o.X+x/float64(panels.Len()), o.Y+y/float64(panels.Len())
	}
	from, to := facing-w.body.ToeInDeg, facing+w.body.ToeOutDeg // the left foot's toes go out anticlockwise
	if f == pad.Right {
		from, to = facing-w.body.ToeOutDeg, facing+w.body.ToeInDeg
	}
	best, bestWorth := math.Remainder(facing, 360), math.Inf(-1)
	for a := math.Ceil(from); a <= to; a++ {
		o.TurnDeg = math.Remainder(a, 360)
		worth := -math.Abs(o.TurnDeg) * perDegree
		if panels.Len() > 1 {
			share := w.share(o, panels)
			if share == 0 {
				continue
			}
			worth += min(share, fairShare)
		}
		if worth > bestWorth {
			best, bestWorth = o.TurnDeg, worth
		}
	}
	o.TurnDeg = best
	return o
}

// share gives the smallest share of an outsole on one of the panels, from points
// 10 mm apart. Its ends are round.
func (w *walker) share(o view.Outsole, panels pad.PanelSet) float64 {
	const mm = 10
	sin, cos := math.Sincos(o.TurnDeg * math.Pi / 180)
	var on [pad.MaxPanels]int
	n := 0
	r := o.WidthMM / 2
	for u := -r + mm/2; u < r; u += mm {
		for v := -o.LengthMM/2 + mm/2; v < o.LengthMM/2; v += mm {
			if past := math.Abs(v) - (o.LengthMM/2 - r); past > 0 && math.Hypot(past, u) > r {
				continue
			}
			n++
			x, y := o.X+u*cos-v*sin, o.Y+u*sin+v*cos
			for p := range panels.All() {
				if q := w.d.Layout.Panels[p].Rect; x >= float64(q.X0) && x <= float64(q.X1) && y >= float64(q.Y0) && y <= float64(q.Y1) {
					on[p]++
				}
			}
		}
	}
	least := n
	for p := range panels.All() {
		least = min(least, on[p])
	}
	return float64(least) / float64(max(n, 1))
}
