// Package walker is a second synthetic player, for tests of the reading alone. It
// shares nothing with the reader's model: a foot is a load that rises after it
// touches down and falls after it lifts, a panel closes and opens where its share
// of that load passes a threshold, a roll is a centre of pressure that wanders from one
// panel to the next, and what is left to chance is gamma, Laplace or uniform,
// never normal or log normal. The truth of every rep is known.
package walker

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Style is what a foot does when nothing calls it elsewhere.
type Style int

// Styles.
const (
	Tap   Style = iota // lifts soon, often onto a dead cell
	Walk               // lifts once the other foot has taken the weight
	Stand              // stays until it must go, or long
)

// Habits are what differs between players. Times are in ms, loads in shares of
// the body's weight.
type Habits struct {
	LeadMS     float64 // mean of press minus due
	DriftMS    float64 // of a slow wander, a landing
	NoiseMS    float64 // scale of the Laplace noise of each landing
	Style      Style
	StayMS     float64 // mean of the style's own time
	StayShape  float64 // of its gamma distribution
	RiseMS     float64 // from touching down to full load
	FallMS     float64 // from lifting to no load
	Threshold  float64 // share of the load at which a panel closes; it opens at 0.7 of it
	SwingMS    float64 // shortest swing
	SwingLogMS float64 // and what each doubling of the way adds
	FlightMS   float64 // both feet off the ground before a landing of both, or a gathered one
	RestInHop  bool    // before a gathered landing of one foot the other stays where it is
	StaggerMS  float64 // scale between the feet of a landing
	HeelFirst  float64 // ms by which a bracket's first note's panel is touched first, below 0 its second
	Balance    float64 // spread of the weight's share between a bracket's panels
	RollMS     float64 // time of the pressure's way from panel to panel in a roll
	PivotMS    float64 // by which the first panel is left later; below 0 the foot pivots
	RollShort  float64 // share of a roll's due lag that is really taken, 0.5 to 1.1

	BackMM, LeftMM float64 // how far the player has moved by the end of the run

	MissRate    float64
	ExtraRate   float64
	ChatterRate float64
	ScanMS      float64 // the pad reports at multiples of it; 0: at once
}

// Draw gives a player at random. Faulty players lose presses, add some, chatter and scan slowly.
func Draw(r *rand.Rand, faulty bool) Habits {
	u := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	h := Habits{
		LeadMS: u(-35, 15), DriftMS: u(1, 6), NoiseMS: u(6, 14),
		Style: Style(r.IntN(3)), StayShape: u(10, 30),
		RiseMS: u(8, 25), FallMS: u(15, 40), Threshold: u(.1, .3),
		SwingMS: u(40, 75), SwingLogMS: u(8, 22), FlightMS: u(70, 140),
		StaggerMS: u(2, 9), HeelFirst: u(-8, 8), Balance: u(.03, .12),
		RollMS: u(25, 90), PivotMS: u(-35, 30), RollShort: u(.75, 1.05),
	}
	switch h.Style {
	case Tap:
		h.StayMS = u(45, 110)
	case Walk:
		h.StayMS = u(10, 70)
	case Stand:
		h.StayMS = u(220, 600)
	}
	if faulty {
		h.MissRate, h.ExtraRate, h.ChatterRate = u(0, .04), u(0, .05), u(0, .1)
		if r.IntN(2) == 0 {
			h.ScanMS = 8
		}
		h.Balance = u(.08, .2)
	}
	return h
}

// Kind is a player with something about it that misleads.
type Kind struct {
	Name   string
	Faulty bool // the pad or its reading is at fault, not the feet
	Change func(h *Habits, r *rand.Rand)
}

// Kinds are the players that a reading has to stand up to.
var Kinds = []Kind{
	{"plain", false, func(*Habits, *rand.Rand) {}},
	{"rolls without overlap", false, func(h *Habits, r *rand.Rand) { h.PivotMS, h.RollMS = -45+25*r.Float64(), 25 }},
	{"rests on dead cells", false, func(h *Habits, r *rand.Rand) { h.Style, h.StayMS = Tap, 70+40*r.Float64() }},
	{"a foot rests during a hop", false, func(h *Habits, r *rand.Rand) { h.RestInHop, h.Style, h.StayMS = true, Stand, 500 }},
	{"staggered landings", false, func(h *Habits, r *rand.Rand) { h.StaggerMS = 10 + 5*r.Float64() }},
	{"off-centre brackets", false, func(h *Habits, r *rand.Rand) { h.Balance = .15 + .07*r.Float64() }},
	{"short dwell", false, func(h *Habits, r *rand.Rand) { h.Style, h.StayMS = Tap, 40+20*r.Float64() }},
	{"long stands", false, func(h *Habits, r *rand.Rand) { h.Style, h.StayMS = Stand, 600 }},
	{"walks", false, func(h *Habits, r *rand.Rand) { h.Style, h.StayMS = Walk, 10+50*r.Float64() }},
	{"scan of 8 ms", true, func(h *Habits, r *rand.Rand) { h.ScanMS = 8 }},
	{"chatter", true, func(h *Habits, r *rand.Rand) { h.ChatterRate = .2 }},
	{"lost and extra presses", true, func(h *Habits, r *rand.Rand) { h.MissRate, h.ExtraRate = .04, .05 }},
}

// Rep is what is done in one rep: a footing, or mashing where there is none.
type Rep struct {
	Footing *footing.Footing
}

// Touch is one press as it was made.
type Touch struct {
	pad.Press
	Rep, Note int32 // that it was for, -1 for none
	Foot      pad.Foot
	Kind      drill.ContactKind
}

// Play plays a run of d: reps as given, the first slot at lead. It gives the presses in
// order of their moments, with who made them.
func Play(d *drill.Drill, reps []Rep, h Habits, lead pad.Time, r *rand.Rand) []Touch {
	touches, _ := PlayBeside(d, reps, h, lead, r)
	return touches
}

// walk is a run being played. Times are in ms of the run's clock.
type walk struct {
	d       *drill.Drill
	h       Habits
	r       *rand.Rand
	grid    drill.Grid
	wander  float64
	steps   []*step
	shareOf [pad.MaxPanels]float64
	touches []Touch
}

// step is one foot coming down.
type step struct {
	rep    int
	c      drill.Contact
	foot   pad.Foot
	down   float64 // when it touches
	second float64 // of a roll: when the pressure reaches the second panel
	lift   float64 // when its load begins to fall
	nth    int     // which of the rep's contacts it is
	jumped bool    // both feet were off before
	both   bool    // it came down with the other foot
	hold   float64 // moment up to which it is to stay, 0 for none
}

// Of a player who has moved: a panel that is farther by a millimetre is come to so much later, and
// with so much less of the load, down to leastLoad.
const (
	msPerMM   = .15
	loadPerMM = .003
	leastLoad = .35
)

// longer gives by how much the way to a note's panel is longer in a rep than in the first, in mm.
func (w *walk) longer(rep int, note int32) (mm float64) {
	panels := w.d.Layout.Panels
	x, y := panels[w.d.Notes[note].Panel].Rect.Centre()
	for i := range panels {
		px, py := panels[i].Rect.Centre()
		x, y = x-px/float64(len(panels)), y-py/float64(len(panels))
	}
	so := float64(rep) / float64(w.d.Reps)
	const middle = 1 // mm
	if math.Abs(y) > middle {
		mm += math.Copysign(1, y) * w.h.BackMM * so
	}
	if math.Abs(x) > middle {
		mm += math.Copysign(1, x) * w.h.LeftMM * so
	}
	return mm
}

// load gives the share of a foot's load that is on a note's panel in a rep.
func (w *walk) load(rep int, note int32) float64 {
	return max(leastLoad, 1-loadPerMM*max(0, w.longer(rep, note)))
}

func (w *walk) laplace(scale float64) float64 {
	u := w.r.Float64() - .5
	return -scale * math.Copysign(math.Log(1-2*math.Abs(u)), u)
}

// gamma draws a gamma variable of a mean and a shape (Marsaglia and Tsang 2000).
func (w *walk) gamma(mean, shape float64) float64 {
	d := shape - 1./3
	c := 1 / math.Sqrt(9*d)
	for {
		x := w.r.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if math.Log(w.r.Float64()) < x*x/2+d-d*v+d*math.Log(v) {
			return mean * d * v / shape
		}
	}
}

func (w *walk) due(rep int, n int32) float64 {
	return float64(w.grid.Due(int64(rep), int64(w.d.Notes[n].Slot))) / 1000
}

// landRep lets the feet come down as a footing has it.
func (w *walk) landRep(rep int, f *footing.Footing) {
	aim := make(map[int]float64)
	for _, a := range f.Aims {
		aim[a.Landing] = float64(a.Aim) / 1000
	}
	for i := 0; i < len(f.Contacts); {
		j := i
		first, last := math.Inf(1), math.Inf(-1)
		for ; j < len(f.Contacts) && f.Contacts[j].Landing == f.Contacts[i].Landing; j++ {
			for k, n := range f.Contacts[j].NoteIndices() {
				if f.Contacts[j].Kind == drill.Roll && k == 1 {
					continue
				}
				first, last = min(first, w.due(rep, n)), max(last, w.due(rep, n))
			}
		}
		w.wander = .9*w.wander + w.laplace(w.h.DriftMS)
		at := first + w.h.LeadMS + w.wander + w.laplace(w.h.NoiseMS)
		if last > first {
			at += aim[f.Contacts[i].Landing]
		}
		both := j-i == 2
		for ; i < j; i++ {
			s := &step{rep: rep, nth: i, c: f.Contacts[i], foot: f.Contacts[i].Foot, down: at + w.longer(rep, f.Contacts[i].Notes[0])*msPerMM, jumped: both || last > first, both: both}
			if both {
				s.down += w.laplace(w.h.StaggerMS)
			}
			if s.c.Kind == drill.Roll {
				lag := w.due(rep, s.c.Notes[1]) - w.due(rep, s.c.Notes[0])
				s.second = s.down + max(25, lag*w.h.RollShort+w.laplace(w.h.NoiseMS*.7))
			}
			for _, n := range s.c.NoteIndices() {
				if note := w.d.Notes[n]; note.Hold > 0 {
					s.hold = float64(w.grid.Due(int64(rep), int64(note.Slot+note.Hold)))/1000 + w.h.LeadMS + w.laplace(20)
				}
			}
			w.steps = append(w.steps, s)
		}
	}
}

// mashRep presses panels of the drill at random.
func (w *walk) mashRep(rep int) {
	from := float64(w.grid.Due(int64(rep), 0)) / 1000
	to := float64(w.grid.Due(int64(rep), w.d.Slots)) / 1000
	n := len(w.d.Notes) + w.r.IntN(len(w.d.Notes)+1)
	for range n {
		p := w.d.Notes[w.r.IntN(len(w.d.Notes))].Panel
		at := from - 60 + (to-from+60)*w.r.Float64()
		w.touches = append(w.touches, Touch{Press: pad.Press{Panel: p, Down: us(at), Up: us(at + 25 + w.gamma(90, 3))}, Rep: -1, Note: -1})
	}
}

// end gives when a foot has all its panels pressed.
func (s *step) end() float64 { return max(s.down, s.second) }

// lift decides when each foot leaves.
func (w *walk) lift() {
	slices.SortStableFunc(w.steps, func(a, b *step) int { return cmp.Compare(a.down, b.down) })
	feet := make([]pad.Foot, len(w.steps))
	for i, s := range w.steps {
		feet[i] = s.foot
	}
	for i, s := range w.steps {
		c := w.calls(i, feet)
		d := w.departure(&c)
		s.lift = d.draw(w)
	}
}

func (w *walk) panels(s *step) (set pad.PanelSet) {
	for _, n := range s.c.NoteIndices() {
		set = set.With(w.d.Notes[n].Panel)
	}
	return set
}

// way gives how far it is from one place to another, in metres.
func (w *walk) way(a, b *step) float64 {
	ax, ay := w.middle(a)
	bx, by := w.middle(b)
	return math.Hypot(ax-bx, ay-by) / 1000
}

func (w *walk) middle(s *step) (x, y float64) {
	notes := s.c.NoteIndices()
	for _, n := range notes {
		px, py := w.d.Layout.Panels[w.d.Notes[n].Panel].Rect.Centre()
		x, y = x+px/float64(len(notes)), y+py/float64(len(notes))
	}
	return x, y
}

// after gives when a load that takes all of span to rise passes a level, as a share of
// span: the load rises along half a cosine.
func after(level float64) float64 { return math.Acos(1-2*min(max(level, 0), 1)) / math.Pi }

// press closes and opens the panels under the feet.
func (w *walk) press() {
	h := &w.h
	usual := h.RiseMS * after(h.Threshold)
	opens := .7 * h.Threshold
	for _, s := range w.steps {
		put := func(n int32, down, up float64) {
			if w.r.Float64() < h.MissRate {
				return
			}
			w.touches = append(w.touches, Touch{Press: pad.Press{Panel: w.d.Notes[n].Panel, Down: us(down), Up: us(max(up, down+8))},
				Rep: int32(s.rep), Note: n, Foot: s.foot, Kind: s.c.Kind})
		}
		switch s.c.Kind {
		case drill.Step:
			part := w.load(s.rep, s.c.Notes[0])
			put(s.c.Notes[0], s.down-usual+h.RiseMS*after(h.Threshold/part), s.lift+h.FallMS*(1-after(opens/part)))
		case drill.Bracket:
			share := .5 + w.laplace(h.Balance*.7)
			heel := h.HeelFirst + w.laplace(2)
			for k, n := range s.c.Notes {
				part := share
				late := max(0, -heel)
				if k == 1 {
					part, late = 1-share, max(0, heel)
				}
				part *= w.load(s.rep, n)
				if part < h.Threshold {
					continue // off its panel: half a bracket
				}
				down := s.down - usual + late + h.RiseMS*after(h.Threshold/part)
				up := s.lift + h.FallMS*(1-after(opens/part)) - late*w.r.Float64() // what touched first, toe or heel, is left last
				put(n, down, up)
			}
		case drill.Roll:
			put(s.c.Notes[0], s.down, min(max(s.second+h.PivotMS+h.RollMS*(after(1-opens)-after(h.Threshold))+w.laplace(5), s.down+20), s.lift+h.FallMS*.8))
			put(s.c.Notes[1], s.second, s.lift+h.FallMS*(1-after(opens)))
		}
		if w.r.Float64() < h.ExtraRate {
			p := pad.Panel(w.r.IntN(len(w.d.Layout.Panels)))
			at := s.down + 150*w.r.Float64()
			w.touches = append(w.touches, Touch{Press: pad.Press{Panel: p, Down: us(at), Up: us(at + 20 + 60*w.r.Float64())}, Rep: -1, Note: -1})
		}
	}
}

func us(ms float64) pad.Time { return pad.Time(math.Round(ms * 1000)) }

// settle makes the presses what a pad can report: a panel that is down cannot go down
// again, contacts bounce, and edges come at the scan's moments.
func (w *walk) settle() []Touch {
	h := &w.h
	byTime := func(a, b Touch) int {
		return cmp.Or(cmp.Compare(a.Down, b.Down), cmp.Compare(a.Panel, b.Panel))
	}
	slices.SortStableFunc(w.touches, byTime)
	var last [pad.MaxPanels]int
	for i := range last {
		last[i] = -1
	}
	scan, phase := us(h.ScanMS), pad.Time(w.r.Float64()*h.ScanMS*1000)
	seen := func(t pad.Time) pad.Time {
		if scan == 0 {
			return t
		}
		return (t-phase+scan-1)/scan*scan + phase
	}
	least := max(8*pad.Millisecond, scan)
	out := make([]Touch, 0, len(w.touches))
	add := func(t Touch) bool {
		t.Down, t.Up = seen(t.Down), seen(t.Up)
		if j := last[t.Panel]; j >= 0 {
			if before := &out[j]; before.Up+least > t.Down {
				if t.Down-least <= before.Down {
					return false
				}
				before.Up = t.Down - least
			}
		}
		t.Up = max(t.Up, t.Down+least)
		last[t.Panel] = len(out)
		out = append(out, t)
		return true
	}
	for _, t := range w.touches {
		if w.r.Float64() < h.ChatterRate && t.Up-t.Down > 40*pad.Millisecond {
			a, b := t, t
			a.Up = t.Down + us(2+6*w.r.Float64())
			b.Down = a.Up + us(1+8*w.r.Float64())
			b.Rep, b.Note = -1, -1
			if scan == 0 && (last[t.Panel] < 0 || out[last[t.Panel]].Up+least < a.Down) {
				out = append(out, a)
				last[t.Panel] = len(out)
				out = append(out, b)
				continue
			}
		}
		add(t)
	}
	slices.SortStableFunc(out, byTime)
	return out
}

// Edges gives the presses as a pad reports them.
func Edges(touches []Touch) []pad.Edge {
	var edges []pad.Edge
	for i := range touches {
		t := &touches[i]
		edges = append(edges, pad.Edge{T: t.Down, Panel: t.Panel, Kind: pad.Down}, pad.Edge{T: t.Up, Panel: t.Panel, Kind: pad.Up})
	}
	slices.SortStableFunc(edges, func(a, b pad.Edge) int { return cmp.Compare(a.T, b.T) })
	return edges
}
