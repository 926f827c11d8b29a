// Package recovery measures what a rest does: how much of an evening's practice is
// still there the next day, and how far a pause between two runs brings the feet back.
// Changes of the spread are shares of it, −0.1 for a tenth smaller.
package recovery

import (
	"math"
	"slices"
	"time"

	"heeltoe/trainer/estimate"
	"heeltoe/trainer/trend"
)

// Ends is how many runs at the beginning and at the end of a day are compared (design
// value). They are chosen by their place alone: to compare the best run of a day with
// anything would find a loss where there is none. What is learnt within these runs hides as
// much of a loss.
const Ends = 2

// Run is what Overnight needs of a run. Runs that are compared are of one drill under like
// conditions at nearly one tempo. A rep that is not clear counts in neither Good nor Clear.
type Run struct {
	Started     time.Time
	SpreadUS    float64 // scatter in µs: half of the notes lie so near to their own median; NaN of none
	Good, Clear int     // reps
}

// Night is what changes from the last runs of a day to the first of the next.
// Nights are what varies: an interval needs two.
type Night struct {
	Spread  estimate.Figure // change of the spread over a night
	Success estimate.Figure // change of the share of good reps over a night, −1 to 1
	Day     estimate.Figure // change of the spread within a day of at least 2·Ends runs
}

// Overnight compares days that follow one another. Each slice of groups has runs that
// are like one another, in the order in which they were begun; days begin at midnight in loc.
func Overnight(groups [][]Run, loc *time.Location) Night {
	var spread, success, within []float64
	for _, runs := range groups {
		days := byDay(runs, loc)
		for i, d := range days {
			if len(d.runs) >= 2*Ends {
				within = appendDefined(within, level(d.runs[len(d.runs)-Ends:])-level(d.runs[:Ends]))
			}
			if i == 0 || d.date != days[i-1].date+1 {
				continue
			}
			before := days[i-1].runs
			last, first := before[max(0, len(before)-Ends):], d.runs[:min(Ends, len(d.runs))]
			spread = appendDefined(spread, level(first)-level(last))
			success = appendDefined(success, good(first)-good(last))
		}
	}
	return Night{change(spread), estimate.Mean(success, estimate.Level), change(within)}
}

// change gives the mean of changes of a logarithm as a share.
func change(logs []float64) estimate.Figure {
	return asShare(estimate.Mean(logs, estimate.Level))
}

// asShare gives a change of a logarithm as a share.
func asShare(f estimate.Figure) estimate.Figure {
	f.Value, f.Low, f.High = math.Expm1(f.Value), math.Expm1(f.Low), math.Expm1(f.High)
	return f
}

func appendDefined(x []float64, v float64) []float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return x
	}
	return append(x, v)
}

// level gives the mean logarithm of the spread of runs; NaN where one has none.
func level(runs []Run) float64 {
	sum := 0.0
	for _, r := range runs {
		sum += math.Log(r.SpreadUS)
	}
	return sum / float64(len(runs))
}

// good gives the share of the clear reps of runs that are good; NaN of none.
func good(runs []Run) float64 {
	g, n := 0, 0
	for _, r := range runs {
		g, n = g+r.Good, n+r.Clear
	}
	return float64(g) / float64(n)
}

// oneDay is the runs of one day, numbered so that the next has the next number.
type oneDay struct {
	date int64
	runs []Run
}

func byDay(runs []Run, loc *time.Location) []oneDay {
	var days []oneDay
	for _, r := range runs {
		date := trend.Day(r.Started, loc)
		if len(days) == 0 || days[len(days)-1].date != date {
			days = append(days, oneDay{date: date})
		}
		last := &days[len(days)-1]
		last.runs = append(slices.Clip(last.runs), r)
	}
	return days
}
