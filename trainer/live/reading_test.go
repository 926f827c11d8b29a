package live_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/input"
	"heeltoe/input/synth"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
	"heeltoe/trainer/view"
)

// A run that is played is read rep by rep while it goes on: what the synthetic
// player does is what is told, with its feet, soon after each rep. The screen
// shows it.
func TestFeetAreReadLive(t *testing.T) {
	d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 240, PerBeat: 2, Reps: 8, Steps: "sw c ne . se c nw .", Footing: "L:sw (R:c&ne) R:se (L:c&nw)"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	contacts := d.Footing
	p := synth.Defaults()
	player, err := synth.New(d, contacts, 500*pad.Millisecond, p, 3)
	if err != nil {
		t.Fatal(err)
	}
	clock, _ := live.NewClock()
	c := &live.Config{Drill: d, Clock: clock, Read: true, Options: judge.Options{Lead: 500 * pad.Millisecond},
		Sources: []input.Source{&input.Paced{Script: player, Name: "synthetic"}}}
	f := live.NewFollower(c, 0)
	read := map[int]live.RepRead{}
	when := map[int]pad.Time{}
	var slowest pad.Time
	c.Fed = f.Fed
	c.Events = func(e live.Event) {
		switch e := e.(type) {
		case live.RepDone:
			when[e.Rep.Rep] = clock.Now()
		case live.RepRead:
			if _, again := read[e.Rep]; !again && e.Rep > 0 {
				slowest = max(slowest, clock.Now()-when[e.Rep])
			}
			read[e.Rep] = e
		}
		f.Events(e)
	}
	res := live.Play(t.Context(), c)
	want := footing.Technique(d, contacts)
	feet := map[int]pad.Foot{}
	for i := range contacts {
		for _, n := range contacts[i].NoteIndices() {
			feet[int(n)] = contacts[i].Foot
		}
	}
	if res.Ending != live.Played || len(read) < 6 {
		t.Fatalf("%v, %d reps were read", res.Ending, len(read))
	}
	right, steps, agree := 0, 0, 0
	for _, r := range read {
		if r.Asked != want {
			t.Errorf("asked for %q, want %q", r.Asked, want)
		}
		if r.Technique == want {
			right++
		}
		for _, s := range r.Feet {
			steps++
			for i, n := range d.Notes {
				due := 500*pad.Millisecond + pad.Time(r.Rep)*1000*pad.Millisecond + pad.Time(n.Slot)*125*pad.Millisecond
				if n.Panel == s.Panel && (s.Down-due).Abs() < 150*pad.Millisecond && feet[i] == s.Foot {
					agree++
				}
			}
		}
	}
	t.Logf("%d of %d reps read as %s, %d of %d feet; the slowest reading came %d µs after its rep was over", right, len(read), want, agree, steps, slowest)
	if right < len(read)-1 || steps < 30 || agree < steps*9/10 {
		t.Errorf("%d of %d reps and %d of %d feet are right", right, len(read), agree, steps)
	}
	var v view.Live
	live.Still(&v, d, nil)
	f.Fill(&v, clock.Now())
	known := 0
	for _, b := range v.Bars {
		if b.Foot != view.AnyFoot {
			known++
		}
	}
	if known < len(v.Bars)/2 {
		t.Errorf("%d of %d bars on the strip have a foot", known, len(v.Bars))
	}
	found := false
	for _, g := range v.Figures {
		found = found || g.Name == "read as" && strings.HasPrefix(g.Text, want)
	}
	if !found {
		t.Errorf("the screen does not say what was read: %+v", v.Figures)
	}
}

// A player's own parameters are used while the run goes on and in its sum, as they are offline.
func TestOwnParametersAreUsedLive(t *testing.T) {
	const lead = 300 * pad.Millisecond
	d, err := drill.New(drill.Spec{Name: "x", Layout: "single", BPM: 240, PerBeat: 2, Reps: 2, RestBeats: 2, Steps: "sw c ne c"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	ways, err := footing.Best(d, footing.DefaultBody(), drill.DefaultWindows, footing.Filter{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	player, err := synth.New(d, ways[0].Contacts, lead, synth.Defaults(), 3)
	if err != nil {
		t.Fatal(err)
	}
	clock, _ := live.NewClock()
	var first *live.RepRead
	c := &live.Config{Drill: d, Clock: clock, Read: true, Own: read.Own{"dwell": 260, "swing": 45}, Options: judge.Options{Lead: lead},
		Sources: []input.Source{&input.Paced{Script: player, Name: "synthetic"}}}
	c.Events = func(e live.Event) {
		if r, ok := e.(live.RepRead); ok && r.Rep == 0 && first == nil {
			first = &r
		}
	}
	res := live.Play(t.Context(), c)
	if res.Ending != live.Played || first == nil {
		t.Fatalf("%v, %v", res.Ending, first)
	}
	rd, err := read.New(d, drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	_, whole := res.Run.Latest(1, 2)
	begun := *whole // the run as it was after the first rep
	begun.Reps, begun.Presses = 1, slices.DeleteFunc(slices.Clone(whole.Presses), func(p read.Press) bool { return p.Down > lead+pad.Second })
	anybody := rd.Read(&begun).Reps[0].P
	rd.Suit(c.Own)
	if own := rd.Read(&begun).Reps[0].P; first.P != own || own == anybody {
		t.Errorf("read live with p %v, offline %v with the player's own parameters, %v without", first.P, own, anybody)
	}
	if got, want := float64(res.Run.Report().Run.P), rd.Read(whole).P; math.Abs(got-want) > 1e-6 {
		t.Errorf("the run is summed up with p %v, offline it is %v", got, want)
	}
}
