package timing_test

import (
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/internal/outside"
	"heeltoe/trainer/timing"
)

// nist reads a dataset of NIST's Statistical Reference Datasets (univariate;
// the data begin on line 61).
func nist(t *testing.T, name string) []float64 {
	t.Helper()
	text, err := io.ReadAll(outside.Data(t, "nist", "univariate", name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	var x []float64
	for _, line := range strings.Split(string(text), "\n")[60:] {
		if line = strings.TrimSpace(line); line != "" {
			x = append(x, outside.Number(t, line))
		}
	}
	return x
}

// NIST's datasets taken as intervals: the certified standard deviations s and
// lag-1 correlations r give g0 = s²·(n−1)/n and g1 = r·g0 (NIST/ITL, StRD, in their headers),
// and so the two variances, or a refusal.
func TestTwoProcessFromNIST(t *testing.T) {
	for _, c := range []struct {
		name         string
		n, s, r      float64
		motor, clock float64
	}{
		{"Lew", 200, 277.332168044316, -0.307304800605679, 23517.59565, 29493.37448},
		{"Lottery", 218, 291.699727470969, -0.120948622967393, 10244.15675, 64210.10223},
	} {
		x := [][]float64{nist(t, c.name)}
		g0 := c.s * c.s * (c.n - 1) / c.n
		outside.Near(t, c.name+" g0", timing.Autocovariance(x, 0)/g0, 1, 1e-12)
		outside.Near(t, c.name+" r", timing.Autocovariance(x, 1)/timing.Autocovariance(x, 0)/c.r, 1, 1e-12)
		clock, motor, err := timing.WingKristofferson(x)
		if err != nil {
			t.Fatal(c.name, err)
		}
		outside.Near(t, c.name+" motor", motor, c.motor, 1e-5)
		outside.Near(t, c.name+" clock", clock, c.clock, 1e-5)
	}
	for _, c := range []struct {
		name string
		r    float64 // certified
	}{{"Michelso", 0.535199668621283}, {"Mavro", 0.937989183438248}, {"NumAcc2", -0.999}, {"NumAcc3", -0.999}, {"NumAcc4", -0.999}} {
		x := [][]float64{nist(t, c.name)}
		outside.Near(t, c.name+" r", timing.Autocovariance(x, 1)/timing.Autocovariance(x, 0), c.r, 1e-6)
		if _, _, err := timing.WingKristofferson(x); err == nil {
			t.Errorf("%s with correlation %v was taken", c.name, c.r)
		}
	}
}

// Finger taps with a metronome (Bååth and Madison 2012; 30 people, repository
// rasmusab/bayes_timing): means, spreads and correction strengths, computed
// apart from this program by the published formulas.
func TestTapsOfPeople(t *testing.T) {
	type trial struct{ subject, trial string }
	taps := map[string]map[trial][]pad.Time{}
	for _, r := range outside.Rows(t, outside.Data(t, "tapping_data_baath_madison_2012.csv")) {
		of := taps[r["isi"]]
		if of == nil {
			of = map[trial][]pad.Time{}
			taps[r["isi"]] = of
		}
		k := trial{r["subject"], r["trial"]}
		of[k] = append(of[k], pad.Time(outside.Number(t, r["asynch"]))*pad.Millisecond)
	}
	for _, c := range []struct {
		isi              string
		mean, sd, median float64 // ms, over all taps
		n                int
		within, alpha    float64 // medians over trials
	}{
		{"600", -40.092907, 43.600481, -38.5, 3412, 26.7, 0.442},
		{"1200", -48.593643, 72.673338, -53, 3492, 56.3, 0.599},
		{"1800", -50.428039, 117.899331, -54, 3488, 95.9, 0.745},
		{"2400", -78.410801, 169.220057, -81, 3481, 148.8, 0.877},
		{"3000", -117.951192, 222.283602, -115, 3483, 203.0, 0.826},
	} {
		var all []pad.Time
		var sds, alphas []float64
		for _, x := range taps[c.isi] {
			all = append(all, x...)
			s := judge.Summarise(x)
			sds = append(sds, s.SD/1000)
			alpha, _, _, err := timing.PhaseCorrection([][]float64{floats(x)})
			if err != nil {
				t.Fatal(err)
			}
			alphas = append(alphas, alpha)
		}
		s := judge.Summarise(all)
		if s.N != c.n {
			t.Errorf("%s ms: %d taps, want %d", c.isi, s.N, c.n)
		}
		outside.Near(t, c.isi+" mean", s.Mean/1000, c.mean, 1e-6)
		outside.Near(t, c.isi+" sd", s.SD/1000, c.sd, 1e-6)
		outside.Near(t, c.isi+" median", s.Median/1000, c.median, 0)
		outside.Near(t, c.isi+" median sd within trials", estimate.Quantile(sds, 0.5), c.within, 0.05)
		outside.Near(t, c.isi+" median correction", estimate.Quantile(alphas, 0.5), c.alpha, 0.002) // it depends on when the fit was stopped
	}
	first := floats(taps["600"][trial{"2", "2"}])
	mean, sd := stat.MeanStdDev(first, nil)
	outside.Near(t, "mean of a trial", mean/1000, -46.0370, 5e-5)
	outside.Near(t, "sd of a trial", sd/1000, 27.0803, 5e-5)
	x := [][]float64{first}
	alpha, clock, motor, err := timing.PhaseCorrection(x)
	if err != nil || len(first) != 27 {
		t.Fatal(err, len(first))
	}
	outside.Near(t, "correction of a trial", alpha, 0.206861, 5e-7)
	outside.Near(t, "clock of a trial", clock/1000, 17.151319, 5e-7)
	outside.Near(t, "motor of a trial", motor/1000, 0, 0)
	if _, err := timing.Paced([]timing.Segment{{Spacing: 600 * pad.Millisecond, Offsets: first}}, 1); err == nil {
		t.Error("27 taps were taken for a split")
	}
}

func floats(x []pad.Time) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(v)
	}
	return out
}

// Drummers' feet on pedals to a click (Groove MIDI Dataset v1.0.0, Gillick et al.
// 2019): means, spreads, autocovariances of the intervals, and both splits, computed
// apart from this program. A hit belongs to the nearest beat, at most a quarter
// of it away, the nearest where there are several; the longest run of beats counts.
// The figures of the two-process split are of its formula alone: these presses
// followed a click, which it is not made for.
func TestDrummersFeet(t *testing.T) {
	type key struct{ file, pedal string }
	hits := map[key][]float64{} // in ticks, 480 a beat
	for _, r := range outside.Rows(t, outside.Data(t, "groove", "groove_feet_all.csv.gz")) {
		k := key{r["midi_filename"], r["pedal"]}
		hits[k] = append(hits[k], outside.Number(t, r["tick"]))
	}
	for _, e := range outside.Rows(t, outside.Data(t, "groove", "steady_foot", "EXPECTED.csv")) {
		t.Run(filepath.Base(e["midi_filename"]), func(t *testing.T) {
			perBeat := outside.Number(t, e["us_per_beat"])
			off := map[int]float64{} // beat to µs
			var beats []int
			for _, tick := range hits[key{e["midi_filename"], e["pedal"]}] {
				beat := int(math.RoundToEven(tick / 480))
				d := tick/480 - float64(beat)
				if was, ok := off[beat]; math.Abs(d) <= 0.25 && (!ok || math.Abs(d*perBeat) < math.Abs(was)) {
					if !ok {
						beats = append(beats, beat)
					}
					off[beat] = d * perBeat
				}
			}
			slices.Sort(beats)
			var run, longest []int
			for _, b := range beats {
				if len(run) > 0 && b != run[len(run)-1]+1 {
					run = nil
				}
				if run = append(run, b); len(run) > len(longest) {
					longest = slices.Clone(run)
				}
			}
			outside.Near(t, "beats", float64(len(longest)), outside.Number(t, e["longest_run_beats"]), 0)
			outside.Near(t, "first beat", float64(longest[0]), outside.Number(t, e["run_first_beat"]), 0)
			var x, intervals []float64
			for i, b := range longest {
				x = append(x, off[b]/1000)
				if i > 0 {
					intervals = append(intervals, perBeat/1000+x[i]-x[i-1])
				}
			}
			mean, sd := stat.MeanStdDev(x, nil)
			outside.Near(t, "mean", mean, outside.Number(t, e["mean_ms"]), 1e-6)
			outside.Near(t, "sd", sd, outside.Number(t, e["sd_ms_n1"]), 1e-6)
			outside.Near(t, "median", estimate.Quantile(slices.Clone(x), 0.5), outside.Number(t, e["median_ms"]), 1e-6)
			g0, g1 := timing.Autocovariance([][]float64{intervals}, 0), timing.Autocovariance([][]float64{intervals}, 1)
			outside.Near(t, "g0", g0, outside.Number(t, e["iti_g0_biased"]), 1e-6)
			outside.Near(t, "g1", g1, outside.Number(t, e["iti_g1_biased"]), 1e-6)
			clock, motor, err := timing.WingKristofferson([][]float64{intervals})
			if want := outside.Number(t, e["wk_clock_var"]); want < 0 {
				if err == nil {
					t.Errorf("a clock variance of %v was taken", want)
				}
			} else {
				outside.Near(t, "clock variance", clock, want, 1e-6)
				outside.Near(t, "motor variance", motor, outside.Number(t, e["wk_motor_var"]), 1e-6)
			}
			alpha, sT, sM, err := timing.PhaseCorrection([][]float64{x})
			if err != nil {
				t.Fatal(err)
			}
			outside.Near(t, "correction", alpha, outside.Number(t, e["bgls_alpha"]), 1e-6)
			outside.Near(t, "timekeeper", sT, outside.Number(t, e["bgls_sT"]), 1e-6)
			outside.Near(t, "motor", sM, outside.Number(t, e["bgls_sM"]), 1e-6)
		})
	}
}
