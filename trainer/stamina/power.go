// Package stamina tells how long a player can go on at a tempo, from runs held to
// failure at several tempi: the critical-power models with their uncertainty. For
// feet the power is a step rate in steps a second and the work a number of steps.
// That is an analogy to be tested on the player, not a published result for stepping.
package stamina

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"heeltoe/trainer/estimate"
)

// Bout is one run held until it failed.
type Bout struct {
	Rate    float64 // steps a second
	Seconds float64 // until it failed
}

// Form is which of the model's equal forms is fitted by least squares. They differ
// in what they take to be uncertain, and so in what they give: say which is used.
type Form int

// Forms of the model.
const (
	Hyperbola   Form = iota // t = W/(P − C), least squares on the time
	WorkTime                // P·t = W + C·t, on the work (Moritani et al. 1981, Ergonomics 24:339–350)
	InverseTime             // P = C + W/t, on the rate
)

func (f Form) String() string {
	switch f {
	case Hyperbola:
		return "hyperbola"
	case WorkTime:
		return "work against time"
	case InverseTime:
		return "rate against 1/time"
	}
	return fmt.Sprintf("Form(%d)", int(f))
}

// Limits of what is fitted.
const (
	// LeastBouts leave one degree of freedom for the error.
	LeastBouts = 3
	// ShortestBout and LongestBout are the times, in seconds, between which the
	// model is commonly held to be valid, about 2 to 30 minutes.
	ShortestBout, LongestBout = 120, 1800
)

// Capacity is a fitted critical-power model (Monod and Scherrer 1965, Ergonomics 8:329–338).
type Capacity struct {
	Form
	Critical   estimate.Figure // rate that can be kept up for long, steps a second
	Reserve    estimate.Figure // steps that can be made above it
	SECritical float64         // standard errors of the two
	SEReserve  float64
	cov        float64 // of the two
	student    float64 // quantile for the intervals
	residual   float64 // SD of ln t about the model, for one more bout
}

// Fit fits the model to bouts in one of its forms. It refuses fewer than
// LeastBouts, bouts of one rate or time, and a fit with no reserve.
func Fit(bouts []Bout, form Form) (*Capacity, error) {
	n := len(bouts)
	if n < LeastBouts {
		return nil, estimate.Refusef("%d runs held to failure are fewer than %d", n, LeastBouts)
	}
	for _, b := range bouts {
		if !(b.Rate > 0 && b.Seconds > 0) {
			return nil, estimate.Refusef("a run of %v steps a second for %v s", b.Rate, b.Seconds)
		}
	}
	c := &Capacity{Form: form, student: distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 2)}.Quantile(1 - estimate.Tail)}
	var crit, reserve float64
	var ok bool
	switch form {
	case Hyperbola:
		crit, reserve, ok = c.hyperbola(bouts)
	case WorkTime:
		crit, reserve, ok = c.line(bouts, func(b Bout) (x, y float64) { return b.Seconds, b.Rate * b.Seconds }, false)
	default:
		crit, reserve, ok = c.line(bouts, func(b Bout) (x, y float64) { return 1 / b.Seconds, b.Rate }, true)
	}
	if !ok || !(reserve > 0) {
		return nil, estimate.Refusef("the runs do not follow the model: faster ones must fail sooner, at rates that differ clearly")
	}
	about := func(v, se float64) estimate.Figure {
		return estimate.Figure{Value: v, Interval: estimate.Interval{Low: v - c.student*se, High: v + c.student*se}, N: n}
	}
	c.Critical, c.Reserve = about(crit, c.SECritical), about(reserve, c.SEReserve)
	sum, above := 0.0, 0
	for _, b := range bouts {
		if b.Rate > crit {
			d := math.Log(b.Seconds) - math.Log(reserve/(b.Rate-crit))
			sum, above = sum+d*d, above+1
		}
	}
	c.residual = math.Sqrt(sum / float64(max(1, above-2)))
	return c, nil
}

// line fits y = a + b·x; flipped tells that the critical rate is a, else it is b.
func (c *Capacity) line(bouts []Bout, of func(Bout) (x, y float64), flipped bool) (crit, reserve float64, ok bool) {
	var x, y []float64
	for _, b := range bouts {
		u, v := of(b)
		x, y = append(x, u), append(y, v)
	}
	n := float64(len(x))
	mean, varX := stat.MeanVariance(x, nil)
	if !(varX > 0) {
		return 0, 0, false
	}
	a, b := stat.LinearRegression(x, y, nil, false)
	ss := 0.0
	for i := range x {
		d := y[i] - a - b*x[i]
		ss += d * d
	}
	sxx := varX * (n - 1)
	s2 := ss / (n - 2)
	seA, seB := math.Sqrt(s2*(1/n+mean*mean/sxx)), math.Sqrt(s2/sxx)
	c.cov = -mean * s2 / sxx
	if flipped {
		c.SECritical, c.SEReserve = seA, seB
		return a, b, true
	}
	c.SECritical, c.SEReserve = seB, seA
	return b, a, true
}

// hyperbola fits t = W/(P − C) by Gauss and Newton's steps, halved where one
// would not lessen the sum of squares or leave the rates above C.
func (c *Capacity) hyperbola(bouts []Bout) (crit, reserve float64, ok bool) {
	slowest := math.Inf(1)
	for _, b := range bouts {
		slowest = min(slowest, b.Rate)
	}
	crit, reserve, ok = (&Capacity{}).line(bouts, func(b Bout) (x, y float64) { return b.Seconds, b.Rate * b.Seconds }, false)
	if !ok || !(reserve > 0) {
		return 0, 0, false
	}
	crit = min(crit, 0.999*slowest)
	squares := func(crit, reserve float64) (ss float64) {
		for _, b := range bouts {
			d := b.Seconds - reserve/(b.Rate-crit)
			ss += d * d
		}
		return ss
	}
	ss := squares(crit, reserve)
	var cc, cw, ww float64 // of the normal equations
	for range 200 {
		var gc, gw float64
		cc, cw, ww = 0, 0, 0
		for _, b := range bouts {
			room := b.Rate - crit
			d := b.Seconds - reserve/room
			dc, dw := reserve/(room*room), 1/room
			cc, cw, ww = cc+dc*dc, cw+dc*dw, ww+dw*dw
			gc, gw = gc+dc*d, gw+dw*d
		}
		det := cc*ww - cw*cw
		if !(det > 0) {
			return 0, 0, false
		}
		stepC, stepW := (ww*gc-cw*gw)/det, (cc*gw-cw*gc)/det
		better := false
		for range 60 {
			if nc, nw := crit+stepC, reserve+stepW; nc < slowest && squares(nc, nw) <= ss {
				better = squares(nc, nw) < ss
				crit, reserve, ss = nc, nw, squares(nc, nw)
				break
			}
			stepC, stepW = stepC/2, stepW/2
		}
		if !better {
			break
		}
	}
	s2 := ss / float64(len(bouts)-2)
	det := cc*ww - cw*cw
	c.SECritical, c.SEReserve, c.cov = math.Sqrt(s2*ww/det), math.Sqrt(s2*cc/det), -s2*cw/det
	return crit, reserve, true
}

// Lasts predicts the seconds until failure at a rate, with an interval for one more
// run: the model's own uncertainty (to first order, of ln t) and the scatter of single
// runs about it. High is infinite where the rate may be sustainable. It refuses a rate at
// or below the critical one, and times outside ShortestBout to LongestBout, where the model does not hold.
func (c *Capacity) Lasts(rate float64) (estimate.Figure, error) {
	room := rate - c.Critical.Value
	if room <= 0 {
		return estimate.Figure{}, estimate.Refusef("%.2f steps a second are not above the critical rate of %.2f: the model sets no end", rate, c.Critical.Value)
	}
	t := c.Reserve.Value / room
	if t < ShortestBout || t > LongestBout {
		return estimate.Figure{}, estimate.Refusef("%.0f s lie outside %d to %d s, where the model is held to be valid", t, ShortestBout, LongestBout)
	}
	w := c.Reserve.Value
	v := c.SECritical*c.SECritical/(room*room) + c.SEReserve*c.SEReserve/(w*w) + 2*c.cov/(room*w) + c.residual*c.residual
	k := math.Exp(c.student * math.Sqrt(max(0, v)))
	f := estimate.Figure{Value: t, Interval: estimate.Interval{Low: t / k, High: t * k}, N: c.Critical.N}
	if rate <= c.Critical.High {
		f.High = math.Inf(1)
	}
	return f, nil
}
