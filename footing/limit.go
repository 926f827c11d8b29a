package footing

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"heeltoe/judge/drill"
)

// Limit is one of the times of a Body that can be measured on the player.
type Limit uint8

// Limits, in the order of the figures in Body.
const (
	LimitCycle Limit = iota
	LimitAlone2
	LimitAlone3
	LimitAloneMore
	LimitTogether2
	LimitTogether3
	LimitTogetherMore
	LimitSwing
	LimitRoll
	LimitClear
	limits // how many there are
)

// limitNames has each limit's name in files, and in words.
var limitNames = [limits]struct{ key, words string }{
	LimitCycle:        {"cycle", "one foot again, the other between"},
	LimitAlone2:       {"alone-2", "one foot alone a second time"},
	LimitAlone3:       {"alone-3", "one foot alone a third time"},
	LimitAloneMore:    {"alone-more", "one foot alone a further time"},
	LimitTogether2:    {"together-2", "both feet a second time"},
	LimitTogether3:    {"together-3", "both feet a third time"},
	LimitTogetherMore: {"together-more", "both feet a further time"},
	LimitSwing:        {"swing", fmt.Sprintf("from a press to one %.0f mm away", swingWayMM)},
	LimitRoll:         {"roll", "between a roll's two presses"},
	LimitClear:        {"clear", "a panel from foot to foot"},
}

// swingWayMM is the way that LimitSwing is told for: about that from a corner to the centre.
const swingWayMM = 400.0

// Limits gives all limits in their order.
func Limits() []Limit {
	all := make([]Limit, limits)
	for l := range limits {
		all[l] = l
	}
	return all
}

// LimitOf gives the limit of the key given.
func LimitOf(key string) (Limit, bool) {
	for l := range limits {
		if limitNames[l].key == key {
			return l, true
		}
	}
	return 0, false
}

// Key gives the limit's name in files, such as alone-2.
func (l Limit) Key() string { return limitNames[l].key }

// String says what the limit is of.
func (l Limit) String() string { return limitNames[l].words }

// Easier gives the limits of the same move done fewer times in a row: who has the time for a
// further time has it for a second.
func (l Limit) Easier() (easier []Limit) {
	first := l
	switch {
	case l >= LimitAlone2 && l <= LimitAloneMore:
		first = LimitAlone2
	case l >= LimitTogether2 && l <= LimitTogetherMore:
		first = LimitTogether2
	}
	for e := first; e < l; e++ {
		easier = append(easier, e)
	}
	return easier
}

// LimitSet is a set of limits: bit l is Limit l.
type LimitSet uint16

// Has tells whether l is in the set.
func (s LimitSet) Has(l Limit) bool { return s>>l&1 == 1 }

// times gives the figures that make up a limit.
func (b *Body) times(l Limit) []*time.Duration {
	switch {
	case l == LimitCycle:
		return []*time.Duration{&b.Cycle}
	case l <= LimitAloneMore:
		return []*time.Duration{&b.Alone[l-LimitAlone2]}
	case l <= LimitTogetherMore:
		return []*time.Duration{&b.Together[l-LimitTogether2]}
	case l == LimitSwing:
		return []*time.Duration{&b.Press, &b.Swing, &b.SwingPerMetre}
	case l == LimitRoll:
		return []*time.Duration{&b.RollLag}
	}
	return []*time.Duration{&b.Clear}
}

// Limit gives a limit's time. That of LimitSwing is Press, Swing and the way of 400 mm together.
func (b *Body) Limit(l Limit) time.Duration {
	if l == LimitSwing {
		return b.Press + b.Swing + time.Duration(float64(b.SwingPerMetre)*swingWayMM/1000)
	}
	return *b.times(l)[0]
}

// Measure puts a measured time in the place of a limit's. The figures of LimitSwing keep their
// proportions. A time of 0 or below, or of a limit that is 0, changes nothing.
func (b *Body) Measure(l Limit, t time.Duration) {
	was := b.Limit(l)
	if t <= 0 || was <= 0 {
		return
	}
	for _, d := range b.times(l) {
		*d = time.Duration(math.Round(float64(*d) * float64(t) / float64(was)))
	}
	b.Measured |= 1 << l
}

// Asked is how long a footing leaves for one of a body's times.
type Asked struct {
	Limit Limit
	Time  time.Duration // at the drill's tempo

	// Fastest is the tempo, in beats a minute, up to which the body's own time for it is enough.
	Fastest float64
}

// Asks says for which of a body's times a footing of d calls, and how long it leaves
// for each at d's tempo. What leaves least against the body's own time comes
// first. So a player who can just play it at that tempo needs the first one's time
// for that, and no more than the others' for theirs. Contacts are as in Check.
//
// All times but one are taken away, and Check is asked how fast the footing is then: so
// this goes by the same law.
func Asks(d *drill.Drill, contacts []drill.Contact, body Body) ([]Asked, error) {
	var asked []Asked
	both := landsBoth(contacts)
	for l := range limits {
		fastest, err := fastestBy(d, contacts, body, l, 0)
		if err != nil {
			return nil, err
		}
		a := Asked{Limit: l, Time: time.Duration(float64(body.Limit(l)) * fastest / d.BPM), Fastest: fastest}
		if both { // the stagger is taken from the time that a landing leaves
			if a.Fastest, err = fastestBy(d, contacts, body, l, body.Stagger); err != nil {
				return nil, err
			}
			stagger := float64(body.Stagger)
			if l == LimitSwing { // it may be of no way at all
				stagger *= float64(body.Limit(l)) / float64(body.Press+body.Swing)
			}
			a.Time = max(a.Time-time.Duration(stagger), 0)
		}
		if fastest < drill.MaxBPM { // else it does not call for this
			asked = append(asked, a)
		}
	}
	slices.SortStableFunc(asked, func(a, b Asked) int { return cmp.Compare(a.Fastest, b.Fastest) })
	return asked, nil
}

// fastestBy gives the fastest tempo of contacts if of a body's times only one limit and the
// stagger bound it, MaxBPM where they do not.
func fastestBy(d *drill.Drill, contacts []drill.Contact, body Body, l Limit, stagger time.Duration) (bpm float64, err error) {
	bare := body
	bare.Stagger = stagger
	for k := range limits {
		for _, t := range bare.times(k) {
			*t = 0
		}
	}
	for i, t := range bare.times(l) {
		*t = *body.times(l)[i]
	}
	wide := drill.Bound{Early: -drill.MaxWindow, Late: drill.MaxWindow} // windows are not the question
	f, err := Check(d, contacts, bare, drill.Windows{wide, wide, wide})
	switch {
	case err != nil:
		return 0, err
	case f.Tempo[drill.Outer].None():
		return 0, errors.New("no tempo is slow enough for this footing")
	}
	return f.Tempo[drill.Outer].Fastest, nil
}

// landsBoth tells whether some landing takes both feet.
func landsBoth(contacts []drill.Contact) bool {
	for i := 1; i < len(contacts); i++ {
		if contacts[i].Landing == contacts[i-1].Landing {
			return true
		}
	}
	return false
}

// Backing says what of a footing rests on what was measured of the player.
type Backing struct {
	// UpTo is the fastest tempo that those of its limits allow that were measured, in beats a
	// minute; 0 where none of them was.
	UpTo float64

	Pairs bool // a bracket of it is on panels that were measured with its foot
}

// Measured tells whether anything was.
func (b Backing) Measured() bool { return b.UpTo > 0 || b.Pairs }

// BackingOf says what of a footing of d rests on what was measured of a body.
func BackingOf(d *drill.Drill, contacts []drill.Contact, body Body) Backing {
	var of Backing
	if body.Measured != 0 {
		asked, err := Asks(d, contacts, body)
		if err != nil {
			return of // no tempo serves: nothing bounds it
		}
		for _, a := range asked { // the slowest comes first
			if body.Measured.Has(a.Limit) {
				of.UpTo = a.Fastest
				break
			}
		}
	}
	for i := range contacts {
		if c := &contacts[i]; c.Kind == drill.Bracket {
			_, measured := body.Pairs.Has(d.Layout, c.Foot, panelsOf(d, c))
			of.Pairs = of.Pairs || measured
		}
	}
	return of
}
