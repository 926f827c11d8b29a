package read_test

import (
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/footing/read/walker"
	"heeltoe/judge/drill"
)

// benchRun gives a reader and a run of eight-note reps.
func benchRun(b *testing.B, reps int64) (*read.Reader, *read.Run) {
	b.Helper()
	p := patterns(b, []string{"run-eight"}, []float64{1}, reps)[0]
	rd, err := read.New(p.d, drill.DefaultWindows)
	if err != nil {
		b.Fatal(err)
	}
	h, r := player(3, false)
	return rd, p.play("double-step", h, r)
}

// A whole run of 128 presses, the parameters fitted: to be at most 20 ms on one core.
func BenchmarkRead128(b *testing.B) {
	rd, run := benchRun(b, 16)
	b.ReportAllocs()
	for b.Loop() {
		rd.Read(run)
	}
}

// Ten times as many: to take at most about ten times as long.
func BenchmarkRead1280(b *testing.B) {
	rd, run := benchRun(b, 160)
	b.ReportAllocs()
	for b.Loop() {
		rd.Read(run)
	}
}

// A rep that has just ended, the parameters frozen, late in a long run: to be at most 0.5 ms.
func BenchmarkLastRep(b *testing.B) {
	rd, run := benchRun(b, 160)
	v := rd.Read(run).Values
	b.ReportAllocs()
	for b.Loop() {
		rd.At(run, v, run.Reps-1, run.Reps)
	}
}

// benchFree reads the first n presses of a long run with no drill to go by.
func benchFree(b *testing.B, n int) {
	b.Helper()
	p := patterns(b, []string{"run-eight"}, []float64{1}, int64(n/8+1))[0]
	h, r := player(3, false)
	reps := make([]walker.Rep, p.d.Reps)
	for i := range reps {
		reps[i].Footing = p.ways["double-step"]
	}
	var presses []pad.Press
	for _, t := range walker.Play(p.d, reps, h, lead, r) {
		presses = append(presses, t.Press)
	}
	presses = presses[:n]
	b.ReportAllocs()
	for b.Loop() {
		read.Free(p.d.Layout, presses)
	}
}

// 5,000 presses with no drill to go by: to be at most 1 s on one core.
func BenchmarkFree5000(b *testing.B) { benchFree(b, 5000) }

// Four times as many: to take at most about four times as long.
func BenchmarkFree20000(b *testing.B) { benchFree(b, 20000) }
