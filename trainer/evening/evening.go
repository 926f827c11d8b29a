// Package evening lays out an evening of practice: a graded warm-up without gathered
// landings, tonight's drills in turn with rests, and an easy end, all within a budget of
// landings that the player sets. It keeps how far an evening has come, so that one
// that was cut off can go on, and notices when feet tire. It plays nothing itself.
package evening

import (
	"fmt"
	"time"

	"heeltoe/footing"
	"heeltoe/judge/drill"
	"heeltoe/trainer/adapt"
	"heeltoe/trainer/drills"
)

// Kind is what a part of an evening is for.
type Kind string

// Kinds, in their order.
const (
	WarmUp Kind = "warm-up"
	Main   Kind = "drill"
	Easy   Kind = "easy end"
)

// Part is one run of the evening.
type Part struct {
	Kind  Kind
	Drill *drill.Drill  // at its tempo, with its reps
	Rest  time.Duration // before it
}

// Landings gives the landings of the part: of its footing or, without one, a landing
// for each moment at which notes are due.
func (p *Part) Landings() int64 { return p.Drill.Reps * landings(p.Drill) }

// Length gives how long the part lasts, its count-in and its rest before it not counted.
func (p *Part) Length() time.Duration {
	return time.Duration(p.Drill.Reps) * adapt.RepLength(p.Drill.RepSlots(), p.Drill.PerBeat, p.Drill.BPM)
}

func landings(d *drill.Drill) int64 {
	if d.Footing == nil {
		return d.Moments()
	}
	return int64(d.Footing[len(d.Footing)-1].Landing) + 1
}

// Sizes of an evening. They are design values without a source, and no advice on how much
// is good for anybody.
const (
	LeastBudget = 100 // landings
	// LeastReps are the fewest that a part is worth its count-in for.
	LeastReps = 2
	// MostSets is how often a drill comes round at most.
	MostSets = 6

	warmUpShare = 0.20 // of the budget, at most
	easyShare   = 0.08
	warmUpFor   = 30 * time.Second // each grade
	nearDrill   = 0.7              // tempo of the last grade, tonight's own drills, as a share of theirs
	nearReps    = 4
)

// grades of the warm-up and of the easy end, in landings a second. A brisk walk has
// about two steps a second (common knowledge, no source).
var (
	grades = []float64{1, 1.5, 2}
	easing = []float64{1.5, 1}
)

// Options say what an evening is to be.
type Options struct {
	Drills []*drill.Drill // tonight's, of one layout, each at its tempo with the reps of a set
	Budget int64          // landings in all
	Rest   time.Duration  // between two parts of tonight's drills; half of it in warm-up and end

	// Quiet asks for footings without panel-free time: one foot stays on a panel while the
	// other moves. A drill's own footing stays if it is such a one.
	Quiet   bool
	Body    footing.Body
	Windows drill.Windows
}

// Evening is an evening laid out.
type Evening struct {
	Parts   []Part
	LeftOut []LeftOut
}

// LeftOut is a drill that has no place in the evening, and why.
type LeftOut struct {
	Drill *drill.Drill
	Why   string
}

// Landings gives the landings of all parts.
func (e *Evening) Landings() (n int64) {
	for i := range e.Parts {
		n += e.Parts[i].Landings()
	}
	return n
}

// Length gives how long the parts and the rests between them last.
func (e *Evening) Length() (d time.Duration) {
	for i := range e.Parts {
		d += e.Parts[i].Length() + e.Parts[i].Rest
	}
	return d
}

// New lays an evening out. It fails where the budget is too small for what it is to
// hold, where drills are of different layouts, and where no drill has a place.
func New(o Options) (*Evening, error) {
	if o.Budget < LeastBudget {
		return nil, fmt.Errorf("a budget of %d landings is too small: an evening takes at least %d", o.Budget, LeastBudget)
	}
	for _, d := range o.Drills {
		if d.Layout.Name != o.Drills[0].Layout.Name {
			return nil, fmt.Errorf("%s is of the layout %s, %s of %s: an evening has one pad", o.Drills[0].Name, o.Drills[0].Layout.Name, d.Name, d.Layout.Name)
		}
	}
	e := &Evening{}
	tonight, err := e.choose(o)
	if err != nil {
		return nil, err
	}
	if len(tonight) == 0 {
		why := "no drill was given"
		if len(e.LeftOut) > 0 {
			why = fmt.Sprintf("%s: %s", e.LeftOut[0].Drill.Name, e.LeftOut[0].Why)
		}
		return nil, fmt.Errorf("no drill has a place in the evening: %s", why)
	}
	warm, err := e.warmUp(o, tonight)
	if err != nil {
		return nil, err
	}
	ease, err := steady(o, easing, int64(easyShare*float64(o.Budget)), Easy)
	if err != nil {
		return nil, err
	}
	left := o.Budget - total(warm) - total(ease)
	main, err := e.rounds(tonight, left)
	if err != nil {
		return nil, err
	}
	if len(main) == 0 {
		return nil, fmt.Errorf("a budget of %d landings leaves %d for tonight's drills, too few for %d reps of any: raise it", o.Budget, left, LeastReps)
	}
	for i := range main {
		main[i].Rest = o.Rest
	}
	for _, parts := range [][]Part{warm, ease} {
		for i := range parts {
			parts[i].Rest = o.Rest / 2
		}
	}
	e.Parts = append(append(warm, main...), ease...)
	e.Parts[0].Rest = 0
	return e, nil
}

func total(parts []Part) (n int64) {
	for i := range parts {
		n += parts[i].Landings()
	}
	return n
}

// choose gives tonight's drills as they will be played.
func (e *Evening) choose(o Options) ([]*drill.Drill, error) {
	if !o.Quiet {
		return o.Drills, nil
	}
	var out []*drill.Drill
	for _, d := range o.Drills {
		q, err := quiet(d, o)
		if err != nil {
			return nil, err
		}
		if q == nil {
			e.LeftOut = append(e.LeftOut, LeftOut{d, fmt.Sprintf("no footing without panel-free time works at %g beats a minute", d.BPM)})
			continue
		}
		out = append(out, q)
	}
	return out, nil
}

// listed is how many footings are looked at for a quiet or an ungathered one.
const listed = 12

// quiet gives d with a footing without panel-free time, nil where none works.
func quiet(d *drill.Drill, o Options) (*drill.Drill, error) {
	ways, err := footing.Plan(d, o.Body, o.Windows, footing.Filter{Quiet: true}, listed)
	if err != nil {
		return nil, err
	}
	for _, w := range ways {
		if w.Feasible && d.Footing != nil && footing.SameKind(d.Footing, w.Contacts) {
			return d, nil
		}
	}
	best := footing.Easiest(ways, d.Technique)
	if best == nil {
		return nil, nil
	}
	return d.WithFooting(best.Contacts, best.Technique)
}

// walks are the library's drills of plain steps, by layout.
var walks = map[string]string{"single": "corner-pair", "double": "centre-pair"}

// steady gives plain steps at so many landings a second, in turn, of at most so
// many landings together.
func steady(o Options, rates []float64, most int64, kind Kind) ([]Part, error) {
	id, ok := walks[o.Drills[0].Layout.Name]
	if !ok {
		return nil, fmt.Errorf("there are no plain steps to warm up with on the layout %s", o.Drills[0].Layout.Name)
	}
	d, err := drills.Load(id)
	if err != nil {
		return nil, err
	}
	var out []Part
	for _, rate := range rates {
		bpm := rate * 60 * float64(d.RepSlots()) / float64(d.PerBeat*d.Moments())
		reps := min(int64(rate*warmUpFor.Seconds()), most/int64(len(rates))) / d.Moments()
		w, err := at(d, bpm, max(reps, LeastReps))
		if err != nil {
			return nil, err
		}
		out = append(out, Part{Kind: kind, Drill: w})
	}
	return out, nil
}

func at(d *drill.Drill, bpm float64, reps int64) (*drill.Drill, error) {
	d, err := d.WithTempo(bpm)
	if err != nil {
		return nil, err
	}
	return d.WithReps(reps)
}

// warmUp gives plain steps, faster and faster, then tonight's drills slowly, none of
// it with gathered landings.
func (e *Evening) warmUp(o Options, tonight []*drill.Drill) ([]Part, error) {
	most := int64(warmUpShare * float64(o.Budget))
	parts, err := steady(o, grades, most/2, WarmUp)
	if err != nil {
		return nil, err
	}
	spent := total(parts)
	for _, d := range tonight {
		p, err := slowly(d, o)
		if err != nil {
			return nil, err
		}
		if p == nil || spent+p.Landings() > most {
			continue // it comes in its place all the same, and the budget goes there
		}
		spent += p.Landings()
		parts = append(parts, *p)
	}
	return parts, nil
}

// slowly gives d at an easy tempo with the easiest footing that gathers nothing, nil
// where there is none.
func slowly(d *drill.Drill, o Options) (*Part, error) {
	slow, err := at(d, max(drill.MinBPM, nearDrill*d.BPM), nearReps)
	if err != nil {
		return nil, err
	}
	ways, err := footing.Plan(slow, o.Body, o.Windows, footing.Filter{Quiet: o.Quiet}, listed)
	if err != nil {
		return nil, err
	}
	for _, w := range ways {
		if w.Feasible && len(w.Aims) == 0 {
			slow, err = slow.WithFooting(w.Contacts, w.Technique)
			return &Part{Kind: WarmUp, Drill: slow}, err
		}
	}
	return nil, nil
}

// rounds gives tonight's drills in turn, round after round, within so many landings.
// Where not even one round fits, each set is shortened alike, and what does not fit then is left out.
func (e *Evening) rounds(tonight []*drill.Drill, left int64) ([]Part, error) {
	var once int64
	for _, d := range tonight {
		once += d.Reps * landings(d)
	}
	part := min(1, float64(left)/float64(once))
	var out []Part
	for round := range MostSets {
		for _, d := range tonight {
			reps := min(int64(part*float64(d.Reps)), left/landings(d))
			if reps < min(LeastReps, d.Reps) {
				if round == 0 {
					e.LeftOut = append(e.LeftOut, LeftOut{d, "the budget of landings has no room for it"})
				}
				continue
			}
			set, err := d.WithReps(reps)
			if err != nil {
				return nil, err
			}
			p := Part{Kind: Main, Drill: set}
			out = append(out, p)
			left -= p.Landings()
		}
	}
	return out, nil
}
