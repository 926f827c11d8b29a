package success

import "math"

// Of the fine grid: middles and widths, each evenly spaced by their logarithm.
const fineMiddles, fineWidths = 48, 32

// Believe gives the posterior of trials for curves within and about the tempi from slowest
// to fastest. Of many reps the curves of Grid lie too far apart to tell how sure it is: so
// those that Grid leaves likely are replaced by a finer grid over the same curves, of the
// same equal weights by the logarithms of middle and width.
func Believe(trials []Trials, slowest, fastest float64) *Posterior {
	coarse := NewPosterior(Grid(slowest, fastest))
	for _, t := range trials {
		coarse.ObserveAll(t)
	}
	middle, width := [2]float64{math.Inf(1), 0}, [2]float64{math.Inf(1), 0}
	relative := func(c Curve) float64 { return c.Width / c.Middle }
	for _, i := range coarse.likely() {
		c := coarse.curves[i]
		middle[0], middle[1] = min(middle[0], c.Middle), max(middle[1], c.Middle)
		width[0], width[1] = min(width[0], relative(c)), max(width[1], relative(c))
	}
	// A step of Grid further, as far as Grid goes itself.
	step := func(r [2]float64, by float64, of func(Curve) float64) [2]float64 {
		first, last := coarse.curves[0], coarse.curves[len(coarse.curves)-1]
		return [2]float64{max(r[0]/by, of(first)), min(r[1]*by, of(last))}
	}
	middle = step(middle, middleStep, func(c Curve) float64 { return c.Middle })
	width = step(width, widthStep, relative)
	var fine []Curve
	for i := range fineMiddles {
		m := between(middle, float64(i)/(fineMiddles-1))
		for j := range fineWidths {
			fine = append(fine, Curve{m, m * between(width, float64(j)/(fineWidths-1)), Lapse})
		}
	}
	p := NewPosterior(fine)
	for _, t := range trials {
		p.ObserveAll(t)
	}
	return p
}

// between gives the value at a part of a range by its logarithm.
func between(r [2]float64, part float64) float64 { return r[0] * math.Pow(r[1]/r[0], part) }
