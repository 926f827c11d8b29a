package footing

import (
	"fmt"
	"time"
)

// Body is every figure that the planner knows of a player: sizes in mm, angles
// in degrees, times. Where no other source is named, a figure is common
// practice without a source, set as the loosest that does not contradict what
// players are known to do.
type Body struct {
	// ShoeMM and ShoeWidthMM are the outsole's length and width. Its ends are
	// round, with half the width as their radius: a rectangle's corners would let
	// a foot that is too short reach across a gap by its diagonal.
	ShoeMM, ShoeWidthMM float64

	// CoverMM is how far a foot must reach over a panel's edge to press it.
	CoverMM float64

	// PivotMM is how much further than its own length a foot gets in a roll, since it
	// turns or slides over the gap while its weight passes from heel to toe.
	PivotMM float64

	// ToeOutDeg and ToeInDeg are how far a foot turns against the hips, outwards
	// and inwards. Hip rotation is commonly given as 45° either way (from memory:
	// tables of joint motion for clinicians); knee and ankle add to it outwards,
	// and the other leg is in the way inwards.
	ToeOutDeg, ToeInDeg float64

	// StanceMM is the widest distance between two feet that both press.
	StanceMM float64

	// LongGapMM is the gap between two panels above which a foot for both is long.
	LongGapMM float64

	// Cycle is the shortest time between two contacts of one foot if the
	// other one comes down between them. 111 ms are known to be too short; the
	// fastest hands take 100 ms (Fujii et al. 2009), usual ones 150 to 200 ms.
	Cycle time.Duration

	// Alone is the shortest time before the second, the third and every further
	// contact in a row of one foot while the other one rests.
	Alone [3]time.Duration

	// Together is the same for landings in a row that take both feet, and its
	// first for a foot that comes down in two landings in a row of which one
	// takes both feet. Landings every 167 ms are known to be kept up.
	Together [3]time.Duration

	// Press is the shortest time that a foot stays on a panel; Swing what it needs
	// from there to the next contact, and SwingPerMetre what each metre adds.
	Press, Swing, SwingPerMetre time.Duration

	// Stagger is the time over which the contacts of a landing that has several
	// may ripple, in the notes' order; it is taken from the time until the next landing.
	Stagger time.Duration

	// RollLag is the shortest time between a roll's two presses.
	RollLag time.Duration

	// Clear is the shortest time between a press of a panel by one foot and its next
	// press by the other, which has to wait until the first is off.
	Clear time.Duration

	// HoldEarly is how long before a held note's end the foot may leave it.
	HoldEarly time.Duration

	// MassKG is the mass of the body and LegShare the share of it that is moved in
	// a step: foot and leg below the knee, .061 in Winter (2009), Biomechanics and
	// Motor Control of Human Movement, table 4.1 (after Dempster). LiftMM is how
	// high a foot is lifted. All three serve the estimate of effort alone.
	MassKG, LegShare, LiftMM float64

	// Measured has the limits that were measured on the player; the others are defaults.
	Measured LimitSet

	// Pairs has the pairs of panels that the player's feet were measured on; nil: none.
	Pairs *Pairs
}

// DefaultBody gives an adult of 70 kg with shoes of 310 mm of whom nothing was measured.
func DefaultBody() Body {
	ms := time.Millisecond
	return Body{
		ShoeMM: 310, ShoeWidthMM: 110, CoverMM: 10, PivotMM: 30,
		ToeOutDeg: 60, ToeInDeg: 25, StanceMM: 1300, LongGapMM: 150,
		Cycle:    125 * ms,
		Alone:    [3]time.Duration{150 * ms, 180 * ms, 210 * ms},
		Together: [3]time.Duration{140 * ms, 145 * ms, 150 * ms},
		Press:    20 * ms, Swing: 60 * ms, SwingPerMetre: 80 * ms,
		Stagger: 6 * ms, RollLag: 40 * ms, Clear: 80 * ms, HoldEarly: 150 * ms,
		MassKG: 70, LegShare: .061, LiftMM: 30,
	}
}

// Bounds of what Check takes.
const (
	MinShoeMM, MaxShoeMM = 100, 500
	maxLimit             = 10 * time.Second
)

// Check tells what is wrong with b, or nil.
func (b *Body) Check() error {
	for _, v := range []struct {
		name     string
		is       float64
		low, top float64
	}{
		{"the shoe's length", b.ShoeMM, MinShoeMM, MaxShoeMM}, {"the shoe's width", b.ShoeWidthMM, 30, b.ShoeMM},
		{"the cover", b.CoverMM, 0, 100}, {"the pivot", b.PivotMM, 0, 500},
		{"toe-out", b.ToeOutDeg, 0, 180}, {"toe-in", b.ToeInDeg, 0, 180},
		{"the stance", b.StanceMM, 0, 1e5}, {"the long gap", b.LongGapMM, 0, 1e5},
		{"the mass", b.MassKG, 1, 1000}, {"the leg's share", b.LegShare, 0, 1}, {"the lift", b.LiftMM, 0, 1000},
	} {
		if !(v.is >= v.low && v.is <= v.top) {
			return fmt.Errorf("%s is %v, not from %v to %v", v.name, v.is, v.low, v.top)
		}
	}
	for _, v := range []struct {
		name string
		is   time.Duration
	}{
		{"cycle", b.Cycle}, {"alone", b.Alone[0]}, {"alone", b.Alone[1]}, {"alone", b.Alone[2]},
		{"together", b.Together[0]}, {"together", b.Together[1]}, {"together", b.Together[2]},
		{"press", b.Press}, {"swing", b.Swing}, {"swing a metre", b.SwingPerMetre}, {"stagger", b.Stagger},
		{"roll", b.RollLag}, {"clear", b.Clear}, {"hold", b.HoldEarly},
	} {
		if v.is < 0 || v.is > maxLimit {
			return fmt.Errorf("the limit %s is %v, not from 0 to %v", v.name, v.is, maxLimit)
		}
	}
	return nil
}

// microseconds gives a limit in microseconds, the unit of the planner's sums.
func microseconds(d time.Duration) float64 { return float64(d) / float64(time.Microsecond) }
