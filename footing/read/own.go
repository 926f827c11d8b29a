package read

import "math"

// Own are parameters of one player, by their names in Priors and in the units there.
type Own map[string]float64

// Of a player's own parameters (design values).
const (
	ownSD  = .5 // × the prior's spread: a player is not the same every day
	learnt = 3  // times as much as the prior has to be told by the presses of a parameter that is kept
)

// Suit makes r read the runs of a player whose own parameters are known; the rest is as of anybody.
// Names that are none of Priors, and values that are none of such a parameter, are left out.
func (r *Reader) Suit(o Own) {
	r.prior = anybody()
	for i := range PanelDwell { // those of panels are a drill's
		v, ok := o[Priors[i].Name]
		if Priors[i].Log {
			v = math.Log(v)
		}
		if ok && !math.IsNaN(v) && !math.IsInf(v, 0) {
			r.prior.mean[i], r.prior.sd[i] = v, ownSD*Priors[i].SD
		}
	}
}

// Learn fits a player's own parameters to a run of which an observer says what its reps were: by rep
// one of Labels, or anything else where it is not known. It gives those that the presses of
// these reps tell something of, and how many reps there were; none is no parameters.
func (r *Reader) Learn(run *Run, labels []string) (own Own, reps int) {
	seen := make([]string, run.Reps)
	for i := range min(len(labels), run.Reps) {
		for _, l := range Labels {
			if labels[i] == l && l != Mash {
				seen[i] = l
			}
		}
	}
	p := prepare(r.d, r.windows, run)
	sums, weights := Values{}, Values{}
	for from := 0; from < p.reps; {
		if seen[from] == "" || !p.pressed(from) {
			from++
			continue
		}
		to := from + 1 // of labelled reps in a row
		for to < p.reps && seen[to] != "" && p.pressed(to) && (to-from+1)*p.notes <= partNotes {
			to++
		}
		e := newEngine(r.sheet, p, from, to, 0) // as of anybody, so that learning twice is no more than once
		e.seen = seen
		v := e.believe(e.modes()).values
		e.fit(v, e.all(), 0, false)
		for i := range PanelDwell {
			if e.info[i*params+i]*e.prior.sd[i]*e.prior.sd[i] > 1+learnt {
				sums[i] += v[i] * float64(to-from)
				weights[i] += float64(to - from)
			}
		}
		reps += to - from
		from = to
	}
	own = make(Own)
	for i := range PanelDwell {
		if weights[i] > 0 {
			v := sums[i] / weights[i]
			if Priors[i].Log {
				v = math.Exp(v)
			}
			own[Priors[i].Name] = v
		}
	}
	return own, reps
}

// Mean gives the means of what was learnt of several runs, each of the weight given, of 1 where
// weights is nil: of logarithms where the parameter is one.
func Mean(of []Own, weights []float64) Own {
	mean := make(Own)
	for i := range PanelDwell {
		sum, weight := 0.0, 0.0
		for k, o := range of {
			v, ok := o[Priors[i].Name]
			if !ok {
				continue
			}
			w := 1.0
			if weights != nil {
				w = weights[k]
			}
			if Priors[i].Log {
				v = math.Log(v)
			}
			sum, weight = sum+w*v, weight+w
		}
		if weight == 0 {
			continue
		}
		v := sum / weight
		if Priors[i].Log {
			v = math.Exp(v)
		}
		mean[Priors[i].Name] = v
	}
	return mean
}
