package sheet_test

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/sheet"
	"heeltoe/trainer/view"
)

const ms = pad.Millisecond

// made is a drill with a footing as a drill file has them.
func made(t interface{ Fatal(...any) }, layout, steps, contacts string, bpm float64) *drill.Drill {
	l, _ := pad.ByName(layout)
	d, err := drill.New(drill.Spec{Name: "made", Layout: layout, BPM: bpm, PerBeat: 2, Reps: 2, Steps: steps, Footing: contacts}, l)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// checked gives the sheet of the footing written in a drill.
func checked(t *testing.T, layout, steps, contacts string, bpm float64) *view.Sheet {
	t.Helper()
	d := made(t, layout, steps, contacts, bpm)
	f, err := footing.Check(d, d.Footing, footing.DefaultBody(), drill.DefaultWindows)
	if err != nil {
		t.Fatal(err)
	}
	return sheet.Of(d, f, footing.DefaultBody(), "")
}

// What follows by hand from the default body: a foot leaves 60 ms and 80 ms a metre
// before its next contact, and a roll's first panel goes up 30 ms after the second is down.
func TestDownsByHand(t *testing.T) {
	for _, k := range []struct {
		name, layout, steps, contacts string
		bpm                           float64
		downs                         string // panel, foot, from, up in ms
		free                          string // landings before which no panel is down
	}{
		{"alternation keeps one foot down", "single", "sw se", "L:sw R:se", 100, "sw L 0 540, se R 300 840", ""},
		{"a jump leaves all panels", "single", "sw+se . nw+ne .", "(L:sw R:se) (L:nw R:ne)", 100,
			"sw L 0 495, se R 0 495, nw L 600 1095, ne R 600 1095", "0 1"},
		{"a foot after the other on one panel", "single", "c c", "L:c R:c", 100, "c L 0 240, c R 300 540", "0 1"},
		{"a roll overlaps, the other foot waits", "single", "c se nw .", "R:c>se L:nw", 100, "c R 0 330, se R 300 1140, nw L 600 1740", ""},
		{"a held note stays down", "single", "sw=3 c . .", "L:sw R:c", 100, "sw L 0 1140, c R 300 1440", ""},
	} {
		v := checked(t, k.layout, k.steps, k.contacts, k.bpm)
		var downs, free []string
		for _, d := range v.Downs {
			downs = append(downs, strings.Join([]string{v.Layout.ID(d.Panel), d.Foot.String(), whole(d.From), whole(d.Up)}, " "))
		}
		for i := range v.Landings {
			if v.Landings[i].Free {
				free = append(free, strconv.Itoa(i))
			}
		}
		if got := strings.Join(downs, ", "); got != k.downs {
			t.Errorf("%s: %s, want %s", k.name, got, k.downs)
		}
		if got := strings.Join(free, " "); got != k.free {
			t.Errorf("%s: panel-free before %q, want %q", k.name, got, k.free)
		}
	}
}

// whole gives whole milliseconds.
func whole(t pad.Time) string { return strconv.FormatFloat(t.Milliseconds(), 'f', 0, 64) }

// Any footing planned for any pattern is drawn so that every note is played once by a
// contact, feet stand midway between their panels and turned as the hips allow, and
// what is down agrees with trying every millisecond.
func TestSheetsOfAnyPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layout := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		var steps []string
		for range rapid.IntRange(1, 6).Draw(t, "slots") {
			first := rapid.IntRange(-1, len(layout.Panels)-1).Draw(t, "panel")
			if first < 0 {
				steps = append(steps, ".")
				continue
			}
			step := layout.Panels[first].ID
			if second := rapid.IntRange(0, 3*len(layout.Panels)).Draw(t, "joined"); second < len(layout.Panels) && second != first {
				step += "+" + layout.Panels[second].ID
			}
			steps = append(steps, step)
		}
		steps = append(steps, layout.Panels[rapid.IntRange(0, len(layout.Panels)-1).Draw(t, "last")].ID)
		d := made(t, layout.Name, strings.Join(steps, " "), "", rapid.Float64Range(40, 260).Draw(t, "bpm"))
		body := footing.DefaultBody()
		body.ShoeMM = rapid.Float64Range(200, 400).Draw(t, "shoe")
		filter := footing.Filter{Quiet: rapid.Bool().Draw(t, "quiet")}
		footings, err := footing.Plan(d, body, drill.DefaultWindows, filter, 4)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range footings {
			v := sheet.Of(d, f, body, "")
			checkFeet(t, d, f, body, v)
			checkDowns(t, d, f, body, v)
			// A quiet footing always has a foot on a panel while the other one moves. The
			// filter goes by the order of landings; where a slot is shorter than the
			// longest swing, 0.2 s, a foot may have to leave before the other one is down.
			for i := range v.Landings {
				if filter.Quiet && f.Feasible && d.BPM < 120 && v.Landings[i].Free {
					t.Fatalf("landing %d of a quiet footing is drawn as panel-free: %s", i, drill.FootingText(d, f.Contacts))
				}
			}
		}
	})
}

func checkFeet(t *rapid.T, d *drill.Drill, f *footing.Footing, body footing.Body, v *view.Sheet) {
	played := make([]int, len(d.Notes))
	if len(v.Landings) != f.Landings {
		t.Fatalf("%d landings, want %d", len(v.Landings), f.Landings)
	}
	for i := range v.Landings {
		l := &v.Landings[i]
		seen := map[pad.Foot]int{}
		for j := range l.Contacts {
			c := &l.Contacts[j]
			seen[c.Foot]++
			x, y := 0.0, 0.0
			for n, p := range c.Panels {
				played[c.Notes[n]]++
				if d.Notes[c.Notes[n]].Panel != p {
					t.Fatalf("note %d is drawn on panel %d", c.Notes[n], p)
				}
				cx, cy := d.Layout.Panels[p].Rect.Centre()
				x, y = x+cx/float64(len(c.Panels)), y+cy/float64(len(c.Panels))
			}
			if math.Hypot(x-c.X, y-c.Y) > 1e-6 {
				t.Fatalf("a foot on panels %v stands at %g, %g", c.Panels, c.X, c.Y)
			}
			for p, over := range covers(d.Layout, &c.Outsole, c.Panels) {
				// A roll may pivot over a gap that the shoe does not span.
				if f.Feasible && c.Kind != "roll" && over <= 0 {
					t.Fatalf("a foot at %g, %g, turned by %g°, is not over panel %d", c.X, c.Y, c.TurnDeg, c.Panels[p])
				}
			}
			if facing := f.FacingDeg[i]; !math.IsNaN(facing) {
				out := math.Remainder(c.TurnDeg-facing, 360) // of the left foot
				if c.Foot == pad.Right {
					out = -out
				}
				if out > body.ToeOutDeg+1e-6 || out < -body.ToeInDeg-1e-6 {
					t.Fatalf("foot %v is turned out by %g°", c.Foot, out)
				}
			}
		}
		for j := range l.Resting {
			seen[l.Resting[j].Foot]++
		}
		if seen[pad.Left] > 1 || seen[pad.Right] > 1 || len(l.Contacts) == 0 {
			t.Fatalf("landing %d has feet %v", i, seen)
		}
	}
	for n, k := range played {
		if k != 1 {
			t.Fatalf("note %d is drawn %d times", n, k)
		}
	}
}

func checkDowns(t *rapid.T, d *drill.Drill, f *footing.Footing, body footing.Body, v *view.Sheet) {
	notes := make([]bool, len(d.Notes))
	for i := range v.Downs {
		b := &v.Downs[i]
		if notes[b.Note] || b.From < 0 || b.From >= v.RepLength || b.Up < b.From || b.Up-b.From > v.RepLength {
			t.Fatalf("note %d is down from %d to %d of %d", b.Note, b.From, b.Up, v.RepLength)
		}
		notes[b.Note] = true
	}
	if len(v.Downs) != len(d.Notes) {
		t.Fatalf("%d of %d notes are down", len(v.Downs), len(d.Notes))
	}
	covers := func(from, to, at pad.Time) bool {
		return from <= at && at < to || from <= at+v.RepLength && at+v.RepLength < to
	}
	for at := pad.Time(500); at < v.RepLength; at += ms {
		var feet [pad.MaxPanels][2]int
		down := 0
		for i := range v.Downs {
			if b := &v.Downs[i]; covers(b.From, b.Up, at) {
				down++
				feet[b.Panel][b.Foot]++
			}
		}
		free := slices.ContainsFunc(v.Free, func(s view.Span) bool { return covers(s.From, s.To, at) })
		if free != (down == 0) {
			t.Fatalf("at %d µs %d panels are down, and it is drawn as free: %v", at, down, free)
		}
		for p := range feet {
			if f.Feasible && feet[p][0] > 0 && feet[p][1] > 0 {
				t.Fatalf("at %d µs panel %d is under both feet: %s", at, p, drill.FootingText(d, f.Contacts))
			}
		}
	}
}

// covers gives how far an outsole with round ends reaches over each panel's edge, in
// mm, from points 2 mm apart.
func covers(l *pad.Layout, o *view.Outsole, panels []pad.Panel) []float64 {
	sin, cos := math.Sincos(o.TurnDeg * math.Pi / 180)
	over := make([]float64, len(panels))
	for x := -o.LengthMM / 2; x <= o.LengthMM/2; x += 2 {
		for y := -o.LengthMM / 2; y <= o.LengthMM/2; y += 2 {
			u, v := x*cos+y*sin, y*cos-x*sin
			if math.Hypot(u, max(0, math.Abs(v)-(o.LengthMM-o.WidthMM)/2)) > o.WidthMM/2 {
				continue
			}
			for i, p := range panels {
				r, px, py := l.Panels[p].Rect, o.X+x, o.Y+y
				over[i] = max(over[i], min(px-float64(r.X0), float64(r.X1)-px, py-float64(r.Y0), float64(r.Y1)-py))
			}
		}
	}
	return over
}

// A bracket's foot lies over both its panels by the 10 mm that press them, and is
// not turned further from straight ahead than people stand.
func TestBracketsCoverTheirPanels(t *testing.T) {
	for _, k := range []struct{ layout, steps, contacts string }{
		{"single", "nw c ne .", "L:nw&c R:ne"}, {"single", "sw c se .", "L:sw&c R:se"}, {"single", "se c sw .", "R:se&c L:sw"},
		{"single", "c se nw .", "R:c&se L:nw"}, {"double", "1se 2sw 2se .", "L:1se&2sw R:2se"}, {"single", "sw nw se .", "L:sw&nw R:se"},
	} {
		v := checked(t, k.layout, k.steps, k.contacts, 200)
		c := v.Landings[0].Contacts[0]
		for i, over := range covers(v.Layout, &c.Outsole, c.Panels) {
			if over < 10 {
				t.Errorf("%s: the foot, turned by %g°, reaches only %.0f mm over panel %s", k.contacts, c.TurnDeg, over, v.Layout.ID(c.Panels[i]))
			}
		}
		if math.Abs(c.TurnDeg) > 45 {
			t.Errorf("%s: turned by %g°", k.contacts, c.TurnDeg)
		}
		t.Logf("%s: turned by %g°", k.contacts, c.TurnDeg)
	}
}

// A foot that holds a corner while it steps to the centre lies over both; what
// it cannot reach goes to the other foot.
func TestHeldNotes(t *testing.T) {
	v := checked(t, "single", "sw=4 . c . ne .", "L:sw L:c R:ne", 60)
	c := v.Landings[1].Contacts[0]
	if !slices.Equal(c.Keeps, []pad.Panel{1}) || c.X != 280 || c.Y != 280 {
		t.Errorf("the foot keeps %v and stands at %g, %g", c.Keeps, c.X, c.Y)
	}
	v = checked(t, "single", "sw=4 . ne . . .", "L:sw L:ne", 60)
	l := v.Landings[1]
	if l.Contacts[0].Keeps != nil || len(l.Resting) != 1 || l.Resting[0].Foot != pad.Right || l.Resting[0].X != 140 || l.Resting[0].Y != 140 {
		t.Errorf("the other foot does not take over: %+v", l)
	}
}

func TestAims(t *testing.T) {
	// 115.4 ms apart: middle can hold them, from 115.4 − 70 ms to 90 ms after the first.
	v := checked(t, "single", "sw c . .", "L:sw&c", 260)
	a := v.Landings[0].Aim
	if a == nil || a.Band != "middle" || a.T.Abs()-67692*pad.Microsecond > ms || a.Slack < 22*ms || a.Slack > 23*ms || v.Landings[0].T != a.T {
		t.Errorf("the aim is %+v", a)
	}
}

func TestRanges(t *testing.T) {
	d := made(t, "single", "sw c ne .", "", 90)
	body := footing.DefaultBody()
	stretches, err := footing.Over(d, body, drill.DefaultWindows, footing.Filter{}, 60, 240)
	if err != nil {
		t.Fatal(err)
	}
	v := sheet.Ranges(d, stretches, body, 60, 240)
	if v.Drill != "made" || v.From != 60 || v.To != 240 || v.Measured || len(v.Rows) < 2 {
		t.Fatalf("%+v", v)
	}
	// Every tempo has at most one easiest footing, and that one works there.
	for bpm := 60.0; bpm <= 240; bpm++ {
		n := 0
		for i, r := range v.Rows {
			if r.Number != i+1 {
				t.Errorf("row %d has number %d", i, r.Number)
			}
			for _, e := range r.Easiest {
				if e.Slowest <= bpm && bpm <= e.Fastest {
					n++
					if outer := r.Tempo[drill.Outer]; bpm < outer.Slowest-0.01 || bpm > outer.Fastest+0.01 {
						t.Errorf("%s is the easiest at %g bpm and works from %g to %g", r.Text, bpm, outer.Slowest, outer.Fastest)
					}
				}
			}
		}
		works := slices.ContainsFunc(stretches, func(s footing.Stretch) bool { return s.Footing != nil && s.Slowest <= bpm && bpm <= s.Fastest })
		if n > 1 || works != (n == 1) {
			t.Errorf("%d footings are the easiest at %g bpm", n, bpm)
		}
	}
}
