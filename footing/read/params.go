package read

import "math"

// Param is one parameter of the model that is fitted to the run.
type Param int

// The parameters. Those called log are logarithms of milliseconds, so that a
// spread or a time stays above 0 and steps of the fit are in proportion.
const (
	Asynchrony     Param = iota // ms: mean of a landing's offset from its aim; negative is early
	LandingSD                   // log: how far a landing's middle varies about that
	BracketSpread               // log: spread between the two presses of a bracket
	FeetSpread                  // log: spread between the two feet of one landing
	BracketRelease              // log: spread between the two releases of a bracket
	Dwell                       // log: how long a foot would stay of its own wish, the median
	DwellSpread                 // log of the standard deviation of that time's logarithm (no unit)
	HandOver                    // ms: from the other foot's next press until a foot that hands its weight over leaves
	HandOverSpread              // log: how far that varies
	HandOverShare               // log odds that a foot hands over rather than stays as long as it likes (no unit)
	Swing                       // log: from leaving a panel until the same foot is on another SwingWay away
	SwingSpread                 // log: how far that varies
	RollOverlap                 // ms: a roll's first release after its second press; below 0 for a foot that pivots
	RollSpread                  // log: how far that varies
	RollLag                     // ms: a roll's second press after where its due moment would have it
	RollLagSpread               // log: how far that varies
	Carry                       // artanh of the share of a landing's offset, past Asynchrony, that the next one has too (no unit)
	PanelDwell                  // logarithm of a panel's dwell over the player's (no unit), for each of dwellPanels
	params         = PanelDwell + dwellPanels
)

// dwellPanels is how many panels of a drill have a dwell of their own, the first that it uses:
// as many as two pads have.
const dwellPanels = 10

// SwingWay is the way that Swing is for, in metres. A swing takes swingStill of
// it however short the way is, and the rest grows with the logarithm of the way over the
// panel's width (Fitts 1954, in MacKenzie's form of 1992); a foot whose panel the other
// one is about to press is off it clearShare of a swing before. The shares are design values.
const (
	SwingWay   = 0.4
	swingStill = 0.6
	panelWidth = 0.28 // metres: common practice, no source
	clearShare = 0.4
)

// Values are the parameters' values, in the units beside their names.
type Values [params]float64

// Prior is what is known of a parameter before a run is read: a normal distribution.
// It weighs as much as one observation with its standard deviation.
type Prior struct {
	Name     string
	Unit     string
	Mean, SD float64 // of the value, or of its logarithm where Log
	Log      bool
	Source   string
}

// Usual gives the mean in the prior's own unit, the median where it is of the logarithm.
func (p *Prior) Usual() float64 {
	if p.Log {
		return math.Exp(p.Mean)
	}
	return p.Mean
}

// Units of parameters that stand for a share.
const (
	logOdds = "log odds"
	artanh  = "artanh"
)

// Shown gives a value in the prior's own unit, and the unit, as they are shown: where it stands for a share, that.
func (p *Prior) Shown(v float64) (shown float64, unit string) {
	switch p.Unit {
	case logOdds:
		return 1 / (1 + math.Exp(-v)), "share"
	case artanh:
		return math.Tanh(v), "share"
	}
	return v, p.Unit
}

const design = "design value"

// ln is the logarithm, for priors given in their own unit.
func ln(x float64) float64 { return math.Log(x) }

// Priors are the priors of all parameters, in the order of Param. They are wide: what one
// player does often another never does.
var Priors = [params]Prior{
	Asynchrony: {"asynchrony", "ms", -10, 25, false,
		"feet lead a click by 14 to 44 ms or not at all (Groove MIDI Dataset)"},
	LandingSD: {"landing spread", "ms", ln(20), .4, true,
		"feet on pedals to a click 15 to 22 ms (Groove MIDI Dataset)"},
	BracketSpread:  {"bracket spread", "ms", ln(8), .5, true, design},
	FeetSpread:     {"spread between feet", "ms", ln(12), .5, true, design},
	BracketRelease: {"spread of a bracket's releases", "ms", ln(14), .5, true, design},
	Dwell: {"dwell", "ms", ln(150), .5, true,
		design + "; the whole range from taps to long stands is within two standard deviations"},
	DwellSpread: {"dwell spread", "", ln(.25), .4, true, design},
	HandOver: {"hand-over", "ms", 35, 35, false,
		design + "; in walking both feet are down for a tenth of the cycle, in running for none (Novacheck 1998)"},
	HandOverSpread: {"hand-over spread", "ms", ln(22), .4, true, design},
	HandOverShare:  {"hand-over share", logOdds, -.5, 3, false, design + "; wide, since some never do and some always"},
	Swing: {"swing", "ms", ln(90), .35, true,
		design + "; a stance of running gives a foot less than half its cycle on the ground (Novacheck 1998)"},
	SwingSpread:   {"swing spread", "ms", ln(18), .4, true, design},
	RollOverlap:   {"roll overlap", "ms", 25, 30, false, design + "; slow walking has 360 ms (gaitpdb)"},
	RollSpread:    {"roll spread", "ms", ln(20), .5, true, design},
	RollLag:       {"roll lag", "ms", -5, 20, false, design},
	RollLagSpread: {"roll lag spread", "ms", ln(18), .4, true, design},
	Carry: {"carry-over", artanh, .55, .4, false,
		"taps to a click of 600 ms keep a half of their offset, to slower ones less (Bååth and Madison 2012)"},
}

func init() {
	for i := range dwellPanels {
		Priors[PanelDwell+Param(i)] = Prior{"panel's dwell", "", 0, .1, true, design + "; sensors differ, and how far out a player stands"}
	}
}

// mean gives the priors' means.
func mean() Values { return anybody().mean }

// prior is what is known of a player's parameters before a run is read: independent normal
// distributions.
type prior struct{ mean, sd Values }

// anybody is the prior of a player of whom nothing is known: Priors.
func anybody() (p prior) {
	for i := range Priors {
		p.mean[i], p.sd[i] = Priors[i].Mean, Priors[i].SD
	}
	return p
}

// log gives the logarithm of the prior's density at v.
func (p *prior) log(v *Values) float64 {
	sum := 0.0
	for i := range v {
		z := (v[i] - p.mean[i]) / p.sd[i]
		sum -= z*z/2 + ln(p.sd[i]) + log2Pi/2
	}
	return sum
}

// What is not fitted, since a run says too little of it.
const (
	missRate     = 0.02  // of notes, those without a press
	halfRate     = 0.05  // of brackets, those of which one panel is missed by an off-centre foot
	strayRate    = 0.03  // presses that belong to nothing, per note
	oddRate      = 0.02  // of releases, those that follow no rule (a lost edge, a slip, a foot that waits)
	oddSpan      = 600.0 // ms: over which those are spread
	leastDwell   = 25.0  // ms: no foot leaves sooner, however late it is
	leastOverlap = -45.0 // ms: a roll's mean overlap is not below: that foot steps
	leastSoft    = 8.0   // ms: over which these bounds set in
	holdSpread   = 60.0  // ms: of the release of a held note about its end
	timingTails  = 5.0   // degrees of freedom of Student's t for timing: slips are commoner than in a normal
	gatherSpread = 1.5   // a landing that gathers notes is aimed less surely by so much
	mashMiss     = 0.3   // of notes that mashing leaves out
	mashStray    = 0.5   // presses per note that mashing adds
	mashWindow   = 240.0 // ms: over which its presses are spread about the notes
	mashDwell    = 150.0 // ms: the median of its dwell
	mashSpread   = 0.7   // and the spread of that time's logarithm
)
