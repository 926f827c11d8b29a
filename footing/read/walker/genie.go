package walker

import (
	"math"
	"math/rand/v2"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Genie knows of a run what no pad reports and no reader can know: the player's habits,
// when each foot touched down and when its load began to fall. It sees no foot. What it cannot
// tell cannot be told from the presses, which are made of what it sees: how often it is
// right bounds how often any reader can be.
type Genie struct{ w *walk }

// PlayBeside is Play, with a genie beside the player.
func PlayBeside(d *drill.Drill, reps []Rep, h Habits, lead pad.Time, r *rand.Rand) ([]Touch, *Genie) {
	w := &walk{d: d, h: h, r: r, grid: d.Grid(lead), shareOf: shares(d, r)}
	for k, rep := range reps {
		if rep.Footing == nil {
			w.mashRep(k)
			continue
		}
		w.landRep(k, rep.Footing)
	}
	w.lift()
	w.press()
	return w.settle(), &Genie{w}
}

// shares draws by how much panels differ in how long feet stay.
func shares(d *drill.Drill, r *rand.Rand) (of [pad.MaxPanels]float64) {
	for p := range d.Layout.Panels {
		of[p] = .85 + .3*r.Float64()
	}
	return of
}

// SameShape tells whether two footings have the same landings of the same contacts, so that
// they differ in the feet alone. Then feet touch down by the same law in both.
func SameShape(a, b *footing.Footing) bool {
	if len(a.Contacts) != len(b.Contacts) {
		return false
	}
	for i := range a.Contacts {
		x, y := &a.Contacts[i], &b.Contacts[i]
		if x.Kind != y.Kind || x.Landing != y.Landing || x.Notes != y.Notes {
			return false
		}
	}
	return true
}

// LogLikelihood gives the logarithm of the density, in 1/ms for each foot, of when
// feet left, given when they touched down, if every rep was played by f, which is of the same shape
// as what was played. Point masses, of held notes and of feet on one panel, count as densities do: they are
// the same under every footing.
func (g *Genie) LogLikelihood(f *footing.Footing) float64 {
	return g.w.logLikelihood(g.w.callsBy(f), math.Inf(-1))
}

// callsBy gives what calls each step's foot if f was played.
func (w *walk) callsBy(f *footing.Footing) []calls {
	feet := make([]pad.Foot, len(w.steps))
	for i, s := range w.steps {
		feet[i] = f.Contacts[s.nth].Foot
	}
	of := make([]calls, len(w.steps))
	for i := range of {
		of[i] = w.calls(i, feet)
	}
	return of
}

// logLikelihood takes no foot's leaving to be less likely than least.
func (w *walk) logLikelihood(of []calls, least float64) float64 {
	sum := 0.0
	for i := range of {
		d := w.departure(&of[i])
		sum += max(least, d.log(of[i].s.lift))
	}
	return sum
}
