package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/trainer/profile"
)

// keepLimit keeps one limit for whoever plays without a name.
func keepLimit(t *testing.T, l profile.Limit) {
	t.Helper()
	l.Drill, l.BPM, l.Reps = "square walk", 150, 60
	p := &profile.Player{}
	p.Keep(l)
	if _, err := profile.SavePlayer(p); err != nil {
		t.Fatal(err)
	}
}

// A measured limit replaces the default: what works, up to which tempo and why not follow
// from it, and each figure says where it comes from. 400 ms for one foot again are two slots
// of 200 ms, which the corner pair has at 150 beats a minute.
func TestPlanGoesByMeasuredLimits(t *testing.T) {
	home(t)
	keepLimit(t, profile.Limit{Of: footing.LimitCycle, Time: 400 * pad.Millisecond, Reached: true})
	got := must(t, "plan", "corner-pair", "--bpm", "160")
	for _, want := range []string{"written in the drill does not work: left foot again within 375 ms, needs 400 ms",
		"one foot again, the other between  400  measured: square walk at 150.0 beats a minute, 60 reps", "one foot alone a second time       150  default"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
	var p struct {
		Footings []struct {
			Feasible  bool
			Technique string
			Tempo     map[string][]float64
		}
		Body struct {
			Limits []struct {
				Limit    string
				Time     int64 `json:"time_us"`
				Measured *struct{ Reached bool }
			}
		}
	}
	if err := json.Unmarshal([]byte(must(t, "plan", "corner-pair", "--json")), &p); err != nil {
		t.Fatal(err)
	}
	fastest := 0.0
	for _, f := range p.Footings {
		if f.Technique == "alternate" {
			fastest = f.Tempo["outer"][1]
		}
	}
	if fastest != 150 {
		t.Errorf("the fastest alternation is at %v: %+v", fastest, p.Footings)
	}
	for _, l := range p.Body.Limits {
		if is := l.Limit == "cycle"; is != (l.Measured != nil) || is && (l.Time != 400_000 || !l.Measured.Reached) {
			t.Errorf("%+v", l)
		}
	}
	if got := must(t, "plan", "corner-pair", "--json", "--defaults"); strings.Contains(got, `"body"`) || !strings.Contains(got, `"outer":[10,480]`) {
		t.Errorf("the defaults are not: %s", got)
	}
	if got := must(t, "plan", "corner-pair", "--json", "--player", "another"); strings.Contains(got, `"body"`) {
		t.Errorf("another player has it, too: %s", got)
	}
	// Where the measured limit speaks there is its span, elsewhere that nothing was measured.
	over := must(t, "plan", "crossover-lower", "--over", "60..300")
	if !strings.Contains(over, "not measured") || !strings.Contains(over, "\n60 ") {
		t.Errorf("%s", over)
	}
	if over := must(t, "plan", "corner-pair", "--over", "100..150"); !strings.Contains(over, "measured, up to 150.0  L:sw R:se") || strings.Contains(over, "not measured  L") {
		t.Errorf("%s", over)
	}
}

// A limit that was never reached does not make a player slower than the default.
func TestPlanLimitThatWasNotReached(t *testing.T) {
	home(t)
	for time, want := range map[pad.Time]string{400 * pad.Millisecond: "125  default", 100 * pad.Millisecond: "100  measured: no more is needed, by square walk"} {
		keepLimit(t, profile.Limit{Of: footing.LimitCycle, Time: time})
		if got := must(t, "plan", "corner-pair"); !strings.Contains(got, "the other between  "+want) {
			t.Errorf("%v: %q is missing in\n%s", time, want, got)
		}
	}
}

// keepReach keeps a pad on which pairs were measured.
func keepReach(t *testing.T, player string, shoe int64, reach ...profile.Reach) {
	t.Helper()
	m := input.Map{Layout: pad.Single, Devices: make([]input.Device, 1)}
	for p := range 5 {
		m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(p), Mask: 1 << p})
	}
	p := &profile.Pad{Name: "home", Map: m, Reach: reach, ReachPlayer: player, ReachShoeMM: shoe}
	if _, err := profile.SavePad(p); err != nil {
		t.Fatal(err)
	}
}

// Pairs that were measured go before the model of the foot: one that both feet miss is
// bracketed no more, one that a short shoe cannot reach by the model is.
func TestPlanGoesByMeasuredReach(t *testing.T) {
	home(t)
	both := func(a, b pad.Panel, n int) (of []profile.Reach) {
		for _, foot := range []string{"L", "R"} {
			of = append(of, profile.Reach{Foot: foot, Panels: [2]pad.Panel{a, b}, Tried: 5, Both: n, First: 0})
		}
		return of
	}
	if got := must(t, "plan", "switched-bracket", "--json"); !strings.Contains(got, `"panels":["sw","c"],"kind":"bracket"`) {
		t.Fatalf("no bracket by default: %s", got)
	}
	keepReach(t, "", 0, both(1, 2, 0)...)
	if got := must(t, "plan", "switched-bracket", "--json"); strings.Contains(got, `"kind":"bracket"`) || !strings.Contains(got, `"pad":"home"`) {
		t.Errorf("a pair that was missed each time is bracketed: %s", got)
	}
	got := must(t, "plan", "switched-bracket")
	for _, want := range []string{"written in the drill does not work: the left foot was measured not to press sw and c at once", "measured on the pad home",
		"R at once: none; not: sw&c 0 of 5"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
	keepReach(t, "", 0, both(0, 1, 5)...)
	if got := must(t, "plan", "side-pairs", "--shoe", "250", "--json"); !strings.Contains(got, `"panels":["sw","nw"]`) {
		t.Errorf("a pair that was pressed each time is not: %s", got)
	}
	if got := must(t, "plan", "side-pairs", "--shoe", "250", "--over", "200..220"); !strings.Contains(got, "reach measured") {
		t.Errorf("%s", got)
	}
}

// What was measured with other feet or in other shoes is left out, and that is said.
func TestPlanLeavesOutOthersReach(t *testing.T) {
	home(t)
	keepReach(t, "Mx Example", 280, profile.Reach{Foot: "L", Panels: [2]pad.Panel{1, 2}, Tried: 5})
	for _, c := range []struct {
		args []string
		says string
	}{
		{nil, "the reach measured on the pad home is of Mx Example: it is left out"},
		{[]string{"--player", "Mx Example"}, "is of shoes of 280 mm: it is left out"},
		{[]string{"--player", "Mx Example", "--shoe", "280"}, ""},
	} {
		code, out, errs := heeltoe("", append([]string{"plan", "corner-roll"}, c.args...)...)
		if code != exitDone || !strings.Contains(errs, c.says) || (c.says == "") != (errs == "") || strings.Contains(out, "measured on the pad home") != (c.says == "") {
			t.Errorf("%v: exit %d, %q\n%s", c.args, code, errs, out)
		}
	}
	other := []string{"plan", "stair-middle-six", "--player", "Mx Example", "--shoe", "280"} // of another layout
	if _, out, errs := heeltoe("", other...); errs != "" || strings.Contains(out, "measured on the pad home") {
		t.Errorf("%q\n%s", errs, out)
	}
	if _, out, errs := heeltoe("", append(other, "--pad", "home")...); !strings.Contains(errs, "is of the layout single: it is left out") || strings.Contains(out, "measured on the pad home") {
		t.Errorf("%q\n%s", errs, out)
	}
	if code, out, errs := heeltoe("", "plan", "corner-roll", "--pad", "nowhere"); code != exitInput || out != "" || !strings.Contains(errs, "there are home") {
		t.Errorf("exit %d, %q, %q", code, out, errs)
	}
}

// From runs to the planner: jumps that break above 210 beats a minute give the time that both
// feet need, limits keeps it and plan goes by it, so that the drill is as fast as it was played.
func TestLimitsReachThePlan(t *testing.T) {
	home(t)
	dir := t.TempDir()
	args := []string{"limits", "--store"}
	for bpm := 160; bpm <= 260; bpm += 20 {
		miss := "0"
		if bpm > 210 {
			miss = "0.4"
		}
		file := filepath.Join(dir, fmt.Sprintf("%d.jsonl", bpm))
		must(t, "synth", "corner-jumps", "--bpm", fmt.Sprint(bpm), "--reps", "16", "--miss-rate", miss, "--out", file)
		args = append(args, file)
	}
	out := must(t, args...)
	limit := figuresIn(t, out, `80 % of the reps are good at ([\d.]+) `)[0]
	if limit < 195 || limit > 225 || !strings.Contains(out, "both feet a further time") {
		t.Fatalf("limits says\n%s", out)
	}
	// Two slots of a quarter beat, less a stagger of 6 ms.
	ms := figuresIn(t, out, `both feet a further time: ([\d.]+) ms is what it takes`)[0]
	if want := 30_000/limit - 6; ms < want-1 || ms > want+1 {
		t.Errorf("%v ms, by hand %.1f", ms, want)
	}
	var p struct {
		Footings []struct {
			Technique string
			Tempo     map[string][]float64
		}
	}
	if err := json.Unmarshal([]byte(must(t, "plan", "corner-jumps", "--no-long-shoe", "--json")), &p); err != nil {
		t.Fatal(err)
	}
	if f := p.Footings[0]; f.Technique != "jump" || f.Tempo["outer"][1] < limit-0.1 || f.Tempo["outer"][1] > limit+0.1 {
		t.Errorf("played up to %v, planned %+v", limit, f)
	}
	if got := must(t, "plan", "corner-jumps"); !strings.Contains(got, "measured: corner jumps at") {
		t.Errorf("%s", got)
	}
}

// An adaptive search says how its runs get to the planner, and they do: of a player who was never
// too fast it is known that the time at the fastest tempo is enough.
func TestAdaptiveRunsReachThePlan(t *testing.T) {
	home(t)
	out := must(t, "live", "corner-jumps", "--source", "synth", "--fast", "--adapt", "--fastest", "240", "--block", "6", "--most-reps", "60")
	if !strings.Contains(out, "heeltoe limits corner-jumps --store keeps what your runs say of your body") {
		t.Errorf("%s", last(out, 12))
	}
	out = must(t, "limits", "corner-jumps", "--store")
	v := figuresIn(t, out, `both feet a further time: ([\d.]+) ms is enough, less may do \(corner jumps \(jump\) at ([\d.]+) beats a minute`)
	if want := 30_000/v[1] - 6; v[1] < 200 || v[0] < want-1 || v[0] > want+1 {
		t.Errorf("%v ms at %v beats a minute, by hand %.0f\n%s", v[0], v[1], want, out)
	}
	if out := must(t, "plan", "corner-jumps"); !strings.Contains(out, "measured: no more is needed, by corner jumps at") {
		t.Errorf("%s", out)
	}
}

// A drill that is named stands for its runs in the history: those of the player, and the newest.
func TestLongLimitsOfTheHistory(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	for i, bpm := range []string{"100", "120", "140"} {
		must(t, "live", "corner-hook", "--bpm", bpm, "--source", "synth", "--fast", "--text", "--reps", "8", "--player", "a", "--seed", fmt.Sprint(i+1))
	}
	must(t, "live", "corner-hook", "--mirror", "--bpm", "180", "--source", "synth", "--fast", "--text", "--reps", "8", "--player", "a")
	must(t, "live", "corner-hook", "--bpm", "160", "--source", "synth", "--fast", "--text", "--reps", "8", "--player", "b")
	for args, want := range map[string]string{"": "4 runs", "--player a": "3 runs", "--player a --last 2": "2 runs"} {
		if got := must(t, append([]string{"limits", "corner-hook"}, strings.Fields(args)...)...); !strings.Contains(got, "corner hook (roll): "+want) {
			t.Errorf("%q: %q is missing in\n%s", args, want, got)
		}
	}
	for want, args := range map[string][]string{
		"there is no run of corner-pair yet":         {"corner-pair"},
		"there is no built-in drill \"corner-pear\"": {"corner-pear"},
		"--last: 0 runs are none":                    {"corner-hook", "--last", "0"},
	} {
		if code, out, errs := heeltoe("", append([]string{"limits"}, args...)...); code != exitInput || out != "" || !strings.Contains(errs, want) {
			t.Errorf("%v: exit %d, %q, %q", args, code, out, errs)
		}
	}
}

// Runs of two players are not one body, and runs that say nothing keep nothing.
func TestLimitsKeepsNothing(t *testing.T) {
	home(t)
	dir := t.TempDir()
	var logs []string
	for i, player := range []string{"a", "b"} {
		log := filepath.Join(dir, player+".jsonl")
		must(t, "live", "corner-pair", "--source", "synth", "--fast", "--text", "--reps", "8", "--player", player, "--seed", fmt.Sprint(i+1), "--out", log)
		logs = append(logs, log)
	}
	if code, _, errs := heeltoe("", append([]string{"limits", "--store"}, logs...)...); code != exitInput || !strings.Contains(errs, `of several players: "a", "b"`) {
		t.Errorf("exit %d, %q", code, errs)
	}
	if out := must(t, "limits", "--store", logs[0]); !strings.Contains(out, "play it faster") && !strings.Contains(out, "no tempo is played well") || !strings.Contains(out, "Nothing is kept.") {
		t.Errorf("%s", out)
	}
}
