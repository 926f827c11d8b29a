package read

import "math"

// termKind says what a term of the model is about.
type termKind uint8

const (
	constTerm   termKind = iota // a figure that no parameter changes: notes without a press
	middleTerm                  // offset of a landing's middle
	gatherTerm                  // the same of a landing that gathers notes
	feetTerm                    // between the two feet of a landing
	bracketTerm                 // between the two presses of a bracket
	partTerm                    // between the two releases of a bracket
	gapTerm                     // from one landing to the next, about the drill's slots
	lagTerm                     // between the two presses of a roll
	overlapTerm                 // from a roll's second press to its first release
	releaseTerm                 // from a contact's press to its release
	termKinds
)

// fact is what a run says to one term of one rep: times in ms.
type fact struct {
	kind   termKind
	x      float64  // the time that the term is about; of a constant its value
	logX   float64  // of a release
	free   float64  // of a release: until the same foot comes down again or the other takes the panel, +Inf where neither does
	swing  float64  // and how long a swing to there takes, as a share of Swing
	over   float64  // of a release: until the other foot comes down next, +Inf where it does not before
	unseen [2]bool  // of a release: that free, and that over, is of a note without a press, so only about
	hold   float64  // of a release: how long its note is to be held, 0 where it is not
	own    [2]Param // of a release: the dwell of its panels, of one twice, none below PanelDwell
	before float64  // of a landing's middle: the same of the landing before, NaN where that is not known
}

// slopes are the derivatives of a term's logarithm by those parameters that it has.
type slopes struct {
	n  int
	of [12]Param
	by [12]float64

	// Of a term that is Student's t: the derivatives of its place and of its scale's logarithm, and what a
	// press is expected to tell of these; else 0.
	place, scale [12]float64
	told         [2]float64
}

func (s *slopes) add(p Param, by float64) {
	s.of[s.n], s.by[s.n] = p, by
	s.n++
}

// addTimed adds the slope of a term that is Student's t: its own by x and by the logarithm of its scale, and how its
// place and that logarithm change with p.
func (s *slopes) addTimed(p Param, byX, byLog, place, scale float64) {
	s.place[s.n], s.scale[s.n] = place, scale
	s.add(p, byLog*scale-byX*place)
}

// info gives what a term is expected to tell of two of its parameters, by their places: Fisher's information of Student's t,
// and of a release the product of its slopes.
func (s *slopes) info(a, b int) float64 {
	if s.told[1] > 0 {
		return s.told[0]*s.place[a]*s.place[b] + s.told[1]*s.scale[a]*s.scale[b]
	}
	return s.by[a] * s.by[b]
}

// law is the model at given values of the parameters.
type law struct {
	Values
	scales [termKinds]scale // of the terms that have one
	dwell  float64          // 1 / the spread of the dwell's logarithm
	swing  float64          // ms, over SwingWay
	must   [2]spread        // of the moment at which a foot must go; [1]: where that is only about known
	over   [2]spread        // of the moment at which it hands over, likewise
	hands  float64          // share of releases that hand over
	carry  float64          // share of a landing's offset that the next one has too
	after  [2]scale         // of a landing's middle where the one before is known; [1]: of one that gathers
}

// spreads names the parameter that is the scale of a term.
var spreads = [termKinds]Param{middleTerm: LandingSD, gatherTerm: LandingSD, feetTerm: FeetSpread, bracketTerm: BracketSpread,
	partTerm: BracketRelease, gapTerm: LandingSD, lagTerm: RollLagSpread, overlapTerm: RollSpread}

func newLaw(v Values) *law {
	l := &law{Values: v, dwell: math.Exp(-v[DwellSpread]), swing: math.Exp(v[Swing]), must: v.spreads(SwingSpread),
		over: v.spreads(HandOverSpread), hands: 1 / (1 + math.Exp(-v[HandOverShare])), carry: math.Tanh(v[Carry])}
	for k := middleTerm; k <= overlapTerm; k++ {
		l.scales[k] = newScale(v[spreads[k]])
	}
	l.scales[gapTerm] = newScale(v[LandingSD] + math.Ln2/2) // of two landings' offsets
	l.scales[gatherTerm] = newScale(v[LandingSD] + math.Log(gatherSpread))
	left := math.Log(1-l.carry*l.carry) / 2
	l.after = [2]scale{newScale(l.scales[middleTerm].log + left), newScale(l.scales[gatherTerm].log + left)}
	return l
}

// spread is a scale that is one parameter's, or that with the spread of a landing that was
// not seen added: a sum of squares, of which share is the parameter's part.
type spread struct {
	scale
	share float64
}

// spreads gives the spread of p, and the one about a landing that was not seen.
func (v *Values) spreads(p Param) [2]spread {
	own, landing := math.Exp(2*v[p]), math.Exp(2*v[LandingSD])
	return [2]spread{{newScale(v[p]), 1}, {newScale(math.Log(own+landing) / 2), own / (own + landing)}}
}

// slope adds the slope by the logarithm of the spread of p.
func (w *spread) slope(p Param, by float64, s *slopes) {
	s.add(p, by*w.share)
	if w.share < 1 {
		s.add(LandingSD, by*(1-w.share))
	}
}

// at gives which of two spreads a moment has.
func at(of *[2]spread, unseen bool) *spread {
	if unseen {
		return &of[1]
	}
	return &of[0]
}

// log gives the logarithm of the probability density of f, in 1/ms for each time, and
// where s is not nil its derivatives.
func (l *law) log(f *fact, s *slopes) float64 {
	if s != nil {
		s.n, s.told = 0, [2]float64{}
	}
	switch f.kind {
	case middleTerm, gatherTerm:
		if math.IsNaN(f.before) {
			return l.about(f, s, Asynchrony, l.Values[Asynchrony], 1)
		}
		return l.carried(f, s)
	case lagTerm:
		return l.about(f, s, RollLag, l.Values[RollLag], 1)
	case overlapTerm:
		// On the mean a pivoting foot is off both panels for so long at most: one that is longer has been
		// lifted, and steps.
		mean, byMean := softFloor(l.Values[RollOverlap], leastOverlap, leastSoft)
		return l.about(f, s, RollOverlap, mean, byMean)
	case feetTerm, bracketTerm, partTerm, gapTerm:
		logP, _, byLog := student(f.x, l.scales[f.kind])
		if s != nil {
			s.told = toldByStudent(l.scales[f.kind])
			s.addTimed(spreads[f.kind], 0, byLog, 0, 1)
		}
		return logP
	case releaseTerm:
		return l.release(f, s)
	}
	return f.x
}

// about is a time that varies about a mean, which follows from p; byMean is its derivative.
func (l *law) about(f *fact, s *slopes, p Param, mean, byMean float64) float64 {
	logP, byX, byLog := student(f.x-mean, l.scales[f.kind])
	if s != nil {
		s.told = toldByStudent(l.scales[f.kind])
		s.addTimed(p, byX, byLog, byMean, 0)
		s.addTimed(spreads[f.kind], byX, byLog, 0, 1)
	}
	return logP
}

// carried is a landing's offset after one that is known: an autoregressive process of the first
// order, whose spread over the run is LandingSD.
func (l *law) carried(f *fact, s *slopes) float64 {
	mean := l.Values[Asynchrony]
	scale := l.after[f.kind-middleTerm]
	logP, byX, byLog := student(f.x-mean-l.carry*(f.before-mean), scale)
	if s != nil {
		s.told = toldByStudent(scale)
		s.addTimed(Asynchrony, byX, byLog, 1-l.carry, 0)
		s.addTimed(LandingSD, byX, byLog, 0, 1)
		s.addTimed(Carry, byX, byLog, (f.before-mean)*(1-l.carry*l.carry), -l.carry)
	}
	return logP
}

// release is the time that a foot stayed, x: the earlier of two. One is its own wish. The
// other is when it must go: a swing before it comes down elsewhere, or a little before
// the other foot takes its panel; normal. What is seen is that one came at x and the
// other had not come by then, so each adds a density times the other's survival. A
// few releases follow no rule, so that no single one decides.
func (l *law) release(f *fact, s *slopes) float64 {
	const odd = oddRate / oddSpan
	w := l.wish(f)
	density, above := w.density(), w.above()
	if math.IsInf(f.free, 1) {
		p := (1-oddRate)*density + odd
		if s != nil {
			l.slopesOfWish(f, &w, (1-oddRate)/p, 0, s)
		}
		return math.Log(p)
	}
	swing := l.swing * f.swing
	must, byFree := softFloor(f.free-swing, leastDwell, leastSoft)
	about := at(&l.must, f.unseen[0])
	z := (f.x - must) * about.per
	densityM, aboveM := normal(z)
	densityM *= about.per
	p := (1-oddRate)*(density*aboveM+densityM*above) + odd
	if s != nil {
		per := (1 - oddRate) / p
		l.slopesOfWish(f, &w, per*aboveM, per*densityM, s)
		// A survival's slope is its density: d above(z) = -density dz.
		forced, both := per*densityM*above, per*density*densityM
		about.slope(SwingSpread, forced*(z*z-1)+both*z/about.per, s)
		s.add(Swing, -(forced*z*about.per+both)*byFree*swing)
	}
	return math.Log(p)
}

// wish is a foot's own wish to go: after a time of its own, log normal, or where it
// hands its weight over to the other foot, a time after that one's press, normal.
// A held note's foot wishes to go when the hold ends.
type wish struct {
	z, d, a    float64 // of the time of its own: standard score, density at x, survival
	zo, do, ao float64 // of handing over
	share      float64 // of handing over
	about      *spread // of its moment, where share is above 0
}

func (w *wish) density() float64 { return (1-w.share)*w.d + w.share*w.do }
func (w *wish) above() float64   { return (1-w.share)*w.a + w.share*w.ao }

func (l *law) wish(f *fact) (w wish) {
	if f.hold > 0 {
		w.z = (f.x - f.hold) / holdSpread
		w.d, w.a = normal(w.z)
		w.d /= holdSpread
		return w
	}
	usual := l.Values[Dwell]
	if f.own[0] >= PanelDwell {
		usual += (l.Values[f.own[0]] + l.Values[f.own[1]]) / 2
	}
	w.z = (f.logX - usual) * l.dwell
	w.d, w.a = normal(w.z)
	w.d *= l.dwell / f.x
	if !math.IsInf(f.over, 1) {
		w.share = l.hands
		w.about = at(&l.over, f.unseen[1])
		w.zo = (f.x - f.over - l.Values[HandOver]) * w.about.per
		w.do, w.ao = normal(w.zo)
		w.do *= w.about.per
	}
	return w
}

// slopesOfWish adds the slopes of byDensity × density + byAbove × survival.
func (l *law) slopesOfWish(f *fact, w *wish, byDensity, byAbove float64, s *slopes) {
	if f.hold > 0 {
		return
	}
	byD, byA := (1-w.share)*byDensity*w.d, (1-w.share)*byAbove*w.d
	byDwell := byD*w.z*l.dwell + byA*f.x
	s.add(Dwell, byDwell)
	if f.own[0] >= PanelDwell {
		if f.own[0] == f.own[1] {
			s.add(f.own[0], byDwell)
		} else {
			s.add(f.own[0], byDwell/2)
			s.add(f.own[1], byDwell/2)
		}
	}
	s.add(DwellSpread, byD*(w.z*w.z-1)+byA*w.z*f.x/l.dwell)
	if w.share == 0 {
		return
	}
	byD, byA = w.share*byDensity*w.do, w.share*byAbove*w.do
	s.add(HandOver, byD*w.zo*w.about.per+byA)
	w.about.slope(HandOverSpread, byD*(w.zo*w.zo-1)+byA*w.zo/w.about.per, s)
	s.add(HandOverShare, w.share*(1-w.share)*(byDensity*(w.do-w.d)+byAbove*(w.ao-w.a)))
}
