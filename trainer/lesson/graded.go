package lesson

import (
	"math"

	"heeltoe/footing"
	"heeltoe/judge/drill"
)

// Exercise is one of the graded drills of a lesson.
type Exercise struct {
	Name  string // slower, split, rejoined
	Why   string // one sentence for the pupil
	Drill *drill.Drill
	Sets  int // to play in an evening
}

// Tempi of the graded drills as shares of the limit of the landing that breaks first, and
// their sizes. All are design values without a source.
const (
	slowerAt, splitAt, rejoinedAt = 0.75, 0.90, 0.97

	gradedReps = 12
	gradedSets = 3
)

// Graded gives three drills for the landing: the whole drill slower with the exact footing,
// the landing split out with its neighbours, and the whole rejoined just below the limit.
// A tempo at which the footing does not work, since gathered notes lie too far apart or the
// feet are too slow, is moved to the nearest at which it does.
func Graded(g *Diagnosis, landing int, body footing.Body, windows drill.Windows) ([]Exercise, error) {
	limit := g.tempo(landing)
	part, err := split(g.Drill, around(landing, len(g.Landings)))
	if err != nil {
		return nil, err
	}
	out := []Exercise{
		{"slower", "the whole drill well below your limit: every contact as it is written", g.Drill, gradedSets},
		{"split", "the landing that breaks, with its neighbours; the rest of the rep is silent, to get ready", part, gradedSets},
		{"rejoined", "the whole again, just below the limit: go back to split where it breaks", g.Drill, gradedSets},
	}
	for i, at := range []float64{slowerAt, splitAt, rejoinedAt} {
		e := &out[i]
		var moved string
		if e.Drill, moved, err = graded(e.Drill, e.Name, at*limit, body, windows); err != nil {
			return nil, err
		}
		e.Why += moved
	}
	return out, nil
}

// around gives the places of a landing and its two neighbours within the rep, sorted;
// of a rep of three landings or fewer it is the landing and one neighbour, of one alone.
func around(landing, of int) []int {
	size := min(3, max(1, of-1))
	from := max(0, min(landing-size/2, of-size))
	out := make([]int, size)
	for i := range out {
		out[i] = from + i
	}
	return out
}

// graded names d after what it is for and sets its tempo; moved says why it is not bpm.
func graded(d *drill.Drill, name string, bpm float64, body footing.Body, windows drill.Windows) (graded *drill.Drill, moved string, err error) {
	f, err := footing.Check(d, d.Footing, body, windows)
	if err != nil {
		return nil, "", err
	}
	s := d.Spec
	s.Name += ", " + name
	s.BPM = max(drill.MinBPM, math.Round(bpm*10)/10)
	if r := f.Tempo[drill.Middle]; !r.None() {
		switch {
		case s.BPM < r.Slowest:
			s.BPM, moved = r.Slowest, "; no slower, since its gathered notes could not all be inner or middle"
		case s.BPM > r.Fastest:
			s.BPM, moved = r.Fastest, "; no faster, since the feet would not get there in time"
		}
	}
	s.Reps = gradedReps
	graded, err = drill.New(s, d.Layout)
	return graded, moved, err
}

// split gives d with the notes of some of its landings alone, in the places that they have.
func split(d *drill.Drill, keep []int) (*drill.Drill, error) {
	place := map[int32]int32{} // of the notes that stay
	var notes []drill.Note
	kept := map[int]int{} // landing of the footing, and its new number
	for i, l := range keep {
		kept[l] = i
	}
	stays := map[int32]bool{}
	for i := range d.Footing {
		if _, ok := kept[d.Footing[i].Landing]; ok {
			for _, n := range d.Footing[i].NoteIndices() {
				stays[n] = true
			}
		}
	}
	for i, n := range d.Notes {
		if stays[int32(i)] {
			place[int32(i)] = int32(len(notes))
			notes = append(notes, n)
		}
	}
	s := d.Spec
	s.Steps, s.Footing, s.Technique = drill.StepsText(d.Layout, notes, d.Slots), "", ""
	bare, err := drill.New(s, d.Layout)
	if err != nil {
		return nil, err
	}
	var contacts []drill.Contact
	for _, c := range d.Footing {
		if l, ok := kept[c.Landing]; ok {
			c.Landing = l
			for i := range c.NoteIndices() {
				c.Notes[i] = place[c.Notes[i]]
			}
			contacts = append(contacts, c)
		}
	}
	return bare.WithFooting(contacts, footing.Technique(bare, contacts))
}
