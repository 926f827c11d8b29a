package trainer_test

import (
	"encoding/json"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
)

// A small run worked by hand: two notes a rep, 500 ms apart, three reps from 1 s.
func TestReportByHand(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "two", Layout: "single", BPM: 120, PerBeat: 1, Reps: 3, Steps: "sw ne"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := trainer.New(d, judge.Options{Lead: pad.Second, Shift: 2000})
	sw, _ := d.Layout.Lookup("sw")
	ne, _ := d.Layout.Lookup("ne")
	for _, p := range []struct {
		panel pad.Panel
		at    pad.Time
	}{
		{ne, 200_000},   // in the count-in: stray, of no rep
		{sw, 1_006_000}, // +4 ms
		{ne, 1_442_000}, // -60 ms, middle
		{sw, 1_700_000}, // stray, of rep 0
		{sw, 2_102_000}, // +100 ms, outer
		{ne, 2_552_000}, // +50 ms, inner to its very bound
		{sw, 2_896_999}, // -105.001 ms: past the bound, stray
	} {
		r.Feed(pad.Edge{T: p.at, Panel: p.panel, Kind: pad.Down})
		r.Feed(pad.Edge{T: p.at + 1, Panel: p.panel, Kind: pad.Up})
	}
	r.Finish()
	rep := r.Figures()
	got, err := json.Marshal(struct {
		A, B, C, D any
	}{rep.Summary, rep.Reps, rep.Strays, rep.Notes[:2]})
	if err != nil {
		t.Fatal(err)
	}
	// Offsets 4, -60, 100, 50 ms: mean 23.5, sd 68.09 (variance 13907/3), median
	// 27, deviations 23, 87, 73, 23, so mad 48. A shift of -50 to -100 ms puts
	// one of 50, 100 and 4 more in; the best puts 4, 50, 100 … in [-40, 50]: 4
	// and 50 need shifts from -44 to 0, 100 from -140 to -50: two at most, at 0.
	const want = `{"A":{"notes":6,"inner":2,"middle":1,"outer":1,"absent":2,"stray":3,` +
		`"offset_us":{"mean":23500,"sd":68085.73027196423,"median":27000,"mad":48000},"steadiness":0.5,"best_shift_us":0,"scatter_us":72832,` +
		`"presses":7,"merged":0,"gaps":0,"lost":0,"ended_us":2897000,"reps_begun":3},` +
		`"B":[{"rep":0,"technique":"","p":null,"outcome":"","chances":null,"notes":2,"inner":1,"middle":1,"outer":0,"absent":0,"stray":1,"offset_us":{"mean":-28000,"sd":45254.83399593904,"median":-28000,"mad":32000},"quartiles_us":[-44000,-12000],"scatter_us":73000},` +
		`{"rep":1,"technique":"","p":null,"outcome":"","chances":null,"notes":2,"inner":1,"middle":0,"outer":1,"absent":0,"stray":1,"offset_us":{"mean":75000,"sd":35355.33905932738,"median":75000,"mad":25000},"quartiles_us":[62500,87500],"scatter_us":73000},` +
		`{"rep":2,"technique":"","p":null,"outcome":"","chances":null,"notes":2,"inner":0,"middle":0,"outer":0,"absent":2,"stray":0,"offset_us":{"mean":null,"sd":null,"median":null,"mad":null},"quartiles_us":[null,null],"scatter_us":null}],` +
		`"C":[{"t":200000,"up_us":200001,"panel":"ne"},{"t":1700000,"up_us":1700001,"panel":"sw"},{"t":2896999,"up_us":2897000,"panel":"sw"}],` +
		`"D":[{"rep":0,"note":0,"panel":"sw","due_us":1000000,"press_us":1006000,"offset_us":4000,"up_us":1006001,"band":"inner","foot":null,"contact":null,"p":null},` +
		`{"rep":0,"note":1,"panel":"ne","due_us":1500000,"press_us":1442000,"offset_us":-60000,"up_us":1442001,"band":"middle","foot":null,"contact":null,"p":null}]}`
	if string(got) != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Reps are told of once they are over and decided, and not before.
func TestDoneReps(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "two", Layout: "single", BPM: 120, PerBeat: 1, Reps: 2, Steps: "sw ne"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := trainer.New(d, judge.Options{Lead: pad.Second})
	for _, c := range []struct {
		now  pad.Time
		done int
	}{{0, 0}, {1_600_000, 0}, {1_894_999, 0}, {1_895_000, 1}, {2_800_000, 1}, {2_895_000, 2}} {
		r.Advance(c.now)
		if got := r.DoneReps(); got != c.done {
			t.Errorf("at %d µs %d reps are done, want %d", c.now, got, c.done)
		}
	}
}
