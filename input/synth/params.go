package synth

import (
	"fmt"
	"math"
	"reflect"

	"heeltoe/judge/drill"
)

// Params are the habits of the player. Spans are in milliseconds, rates are
// probabilities from 0 to 1. SD is a standard deviation; what is drawn is normal
// unless said.
type Params struct {
	// Timing against the click: linear phase correction with a central clock
	// and a motor delay, A[n+1] = (1−α)·A[n] + T[n] + M[n+1] − M[n], one step a
	// landing (Vorberg and Wing 1996). With these defaults the SD of the
	// asynchronies is 19.6 ms; feet on pedals to a click have 15 to 22 ms
	// (Groove MIDI Dataset), finger taps α of about 0.4 at 600 ms (Bååth and
	// Madison 2012).
	ClockSDMS, MotorSDMS float64
	PhaseCorrection      float64 // α, above 0 and below 2: the share of an asynchrony that the next landing takes back
	MeanAsynchronyMS     float64 // mean of press minus due; feet lead the click by 14 to 44 ms or not at all (Groove MIDI Dataset)

	// How long a panel stays down where nothing ends it, log normal (design
	// value, no source); for brackets one draw for both panels.
	DwellMeanMS, DwellSDMS float64
	// A foot leaves its panels this long before its next contact: a part of its
	// own and one that grows with the distance (design values, no source).
	SwingMS, SwingPerMetreMS float64
	// No press is shorter, however late the foot is (design value, no source).
	MinDwellMS float64

	// A bracket's second panel comes down this long after its first (design
	// values, no source).
	BracketLeadMS, BracketSpreadSDMS float64
	// A roll's second panel is aimed at its own due moment, but comes down at
	// least the lag after the first; the first goes up the overlap after that
	// (below 0: before it). Design values, no source: walking feet have a lag of
	// about 0.2 s and an overlap of 0.36 s (gaitpdb), far slower than a drill.
	RollMinLagMS, RollOverlapMeanMS, RollOverlapSDMS float64
	// How far the feet of one landing come down from its moment (design value, no source).
	StaggerSDMS float64
	// A landing that gathers notes of different slots comes down where its
	// earliest and its latest note are equally safe in these windows.
	Windows drill.Windows

	MissRate    float64 // of the notes, those without a press
	StrayRate   float64 // presses on a panel drawn at random, per note
	ChatterRate float64 // of the presses, those that bounce once within ChatterMS
	ChatterMS   float64 // (mechanical bounce is 10 to 20 ms, from memory)
}

// Defaults gives an able player without slips.
func Defaults() Params {
	return Params{
		ClockSDMS: 15, MotorSDMS: 5, PhaseCorrection: 0.4, MeanAsynchronyMS: -15,
		DwellMeanMS: 160, DwellSDMS: 30,
		SwingMS: 50, SwingPerMetreMS: 80, MinDwellMS: 20,
		BracketLeadMS: 4, BracketSpreadSDMS: 8,
		RollMinLagMS: 15, RollOverlapMeanMS: 30, RollOverlapSDMS: 20,
		StaggerSDMS: 6,
		Windows:     drill.DefaultWindows,
		ChatterMS:   8,
	}
}

// Asynchrony gives the autocovariances of the asynchronies at lags 0, 1 and 2,
// in ms², that the timing parameters ask for (Vorberg and Schulze 2002):
// g0 = (s²T + 2α·s²M) / (1 − (1−α)²), g1 = (1−α)·g0 − s²M, g2 = (1−α)·g1.
func (p *Params) Asynchrony() (g0, g1, g2 float64) {
	a, t, m := p.PhaseCorrection, p.ClockSDMS*p.ClockSDMS, p.MotorSDMS*p.MotorSDMS
	g0 = (t + 2*a*m) / (1 - (1-a)*(1-a))
	g1 = (1-a)*g0 - m
	return g0, g1, (1 - a) * g1
}

// Check tells what is wrong with p, or nil.
func (p *Params) Check() error {
	v := reflect.ValueOf(*p)
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		if v.Field(i).Kind() != reflect.Float64 {
			continue
		}
		x := v.Field(i).Float()
		least, most := 0.0, 10_000.0
		switch name {
		case "MeanAsynchronyMS", "RollOverlapMeanMS", "BracketLeadMS":
			least = -most
		case "MissRate", "StrayRate", "ChatterRate":
			most = 1
		case "PhaseCorrection":
			least, most = 0.01, 1.99
		case "DwellMeanMS", "MinDwellMS", "ChatterMS":
			least = 1
		}
		if math.IsNaN(x) || x < least || x > most {
			return fmt.Errorf("synthetic player: %s is %v, not from %v to %v", name, x, least, most)
		}
	}
	return p.Windows.Check()
}
