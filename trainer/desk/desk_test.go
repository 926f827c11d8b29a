package desk_test

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/trainer/click"
	"heeltoe/trainer/desk"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// home gives the test empty folders for settings and runs.
func home(t testing.TB) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Setenv("XDG_DATA_HOME", t.TempDir())
}

func newDesk(t testing.TB, c desk.Config) *desk.Desk {
	t.Helper()
	if c.Choice.Source == "" {
		c.Choice.Source = "auto"
	}
	if c.Choice.Click.Sound == "" {
		c.Choice.Click.Sound = "off"
	}
	d, err := desk.New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close(5 * time.Second) })
	return d
}

// The click as it was chosen is there the next time.
func TestClickIsKept(t *testing.T) {
	home(t)
	c := practice.Choice{Source: "synth", Click: practice.Click{Sound: "wood", LoudnessDB: -20, Subdivide: 1}}
	d, err := desk.New(desk.Config{Choice: c})
	if err != nil {
		t.Fatal(err)
	}
	d.Close(time.Second)
	again := practice.Click{LoudnessDB: math.NaN()}
	if err := again.Settle(); err != nil || again.Sound != "wood" || again.LoudnessDB != -20 {
		t.Errorf("the next time it is %+v, %v", again, err)
	}
}

// A grey figure is explained as it stands, with the pad's numbers.
func TestExplainsGrey(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{})
	live.Figures(&d.Live, &live.Summed{Fineness: 8000, Offset: view.Offsets{SD: 1000, Median: 20_000}})
	i := slices.IndexFunc(d.Live.Figures, func(f view.Figure) bool { return f.Faint })
	d.Explain(i)
	if text := d.Help.Topics[d.Help.Top].Text; d.Page != desk.Helping || !strings.Contains(text, "Standard deviation of the offsets") || !strings.Contains(text, "the pad reports every 8.0 ms") {
		t.Errorf("page %d: %q", d.Page, text)
	}
}

// A footing that is too much for the player is said to be, and played all the same.
func TestDoubts(t *testing.T) {
	home(t)
	p := &profile.Player{}
	p.Keep(profile.Limit{Of: footing.LimitCycle, Time: pad.Second, Reached: true, Drill: "x", BPM: 60, Reps: 10})
	if _, err := profile.SavePlayer(p); err != nil {
		t.Fatal(err)
	}
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: "corner-pair", Reps: 1, BPM: 300}, Source: "synth"}, Begin: true})
	until(t, d, "the doubts", func() bool {
		return strings.Contains(d.Live.Notice, "By what was measured this footing is too much at 300 beats a minute")
	})
	until(t, d, "the end of the run", func() bool { return d.Live.Phase == view.Over })
}

// until draws frames until what is waited for holds.
func until(t testing.TB, d *desk.Desk, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(40 * time.Second); !holds(); {
		if time.Now().After(end) {
			t.Fatalf("waited in vain for: %s; page %d, phase %d, notice %q, fault %q", what, d.Page, d.Live.Phase, d.Live.Notice, d.Sheet.Fault)
		}
		d.Frame()
		time.Sleep(4 * time.Millisecond)
	}
}

func runs(t testing.TB) (logs []*record.Log) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(store.RunsDir(store.Dir()), "*", "*.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files { // names begin with the moment: in order
		l, err := record.ReadLog(f)
		if err != nil {
			t.Fatal(err)
		}
		logs = append(logs, l)
	}
	return logs
}

func short(t testing.TB) string {
	file := filepath.Join(t.TempDir(), "short.toml")
	text := "name = 'short'\nlayout = 'single'\nbpm = 300.0\nper_beat = 1\nreps = 2\ncount_in_beats = 2\nsteps = 'sw c ne .'\nfooting = 'L:sw R:c>ne'\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func field(d *desk.Desk, name string) (int, string) {
	for i, f := range d.Sheet.Fields {
		if f.Name == name {
			return i, f.Value
		}
	}
	return -1, ""
}

// What is shown once a run is over is what the review of its log says.
func TestFiguresAreTheReviewsOfTheLog(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t)}, Source: "synth", Seed: 5}, Begin: true})
	until(t, d, "the run to be over", func() bool { return d.Live.Phase == view.Over })
	logs := runs(t)
	if len(logs) != 1 {
		t.Fatalf("%d runs were kept", len(logs))
	}
	rep, err := practice.Review(strings.TrimPrefix(d.Live.Notice, "Kept as "))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, f := range d.Live.Figures {
		got[f.Name] = float64(f.Value)
	}
	s := rep.Summary
	for name, want := range map[string]float64{"offset, whole run": float64(s.Offset.Median) / 1000, "spread, whole run": float64(s.Offset.SD) / 1000,
		"inner, whole run": float64(s.Inner), "absent, whole run": float64(s.Absent), "stray, whole run": float64(s.Stray),
		"steadiness": 100 * float64(s.Steadiness), "rep": 2} {
		if v, ok := got[name]; !ok || v != want {
			t.Errorf("%s: %v is shown, the review has %v", name, v, want)
		}
	}
	if s.Inner == 0 || len(d.Live.Lines) != 2 {
		t.Errorf("inner %d, %d lines on the chart", s.Inner, len(d.Live.Lines))
	}
}

// The strip shows each press where its log has it, and what comes next.
func TestStripShowsTheLog(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t)}, Source: "synth", Seed: 5}, Begin: true})
	nexts := map[pad.PanelSet]bool{}
	counts := map[int64]bool{}
	until(t, d, "the run to be over", func() bool {
		if d.Live.Phase == view.CountIn {
			counts[d.Live.Count] = true
		}
		for _, p := range d.Live.Next {
			nexts[p.Panels] = true
		}
		return d.Live.Phase == view.Over
	})
	var want []view.Bar
	l := runs(t)[0]
	for _, e := range l.Edges {
		rel := e.T - l.Header.Lead
		rep := int64(0)
		if rel < 0 {
			rep = -1
		} else if rel >= 800*pad.Millisecond { // four slots of 200 ms
			rep = 1
		}
		rel -= pad.Time(rep) * 800 * pad.Millisecond
		if e.Kind == pad.Down {
			want = append(want, view.Bar{Rep: rep, Down: rel, Up: pad.Never, Panel: e.Panel, Foot: view.AnyFoot})
			continue
		}
		for i := len(want) - 1; i >= 0; i-- {
			if want[i].Panel == e.Panel {
				want[i].Up = e.T - l.Header.Lead - pad.Time(want[i].Rep)*800*pad.Millisecond
				break
			}
		}
	}
	for i := range d.Live.Bars {
		d.Live.Bars[i].Foot = view.AnyFoot // is read while the run goes on, or not yet
	}
	a, _ := json.Marshal(d.Live.Bars)
	b, _ := json.Marshal(want)
	if !bytes.Equal(a, b) || len(want) != 6 {
		t.Errorf("the strip has\n%s\nthe log\n%s", a, b)
	}
	if !nexts[pad.SetOf(1)] || !nexts[pad.SetOf(2, 3)] || len(nexts) != 2 {
		t.Errorf("next landings shown: %v", nexts)
	}
	if !counts[1] || !counts[2] || len(counts) > 3 {
		t.Errorf("counts shown: %v", counts)
	}
}

// A run is held and goes on; the part that goes on says so in its log. Losing
// the focus holds it, too.
func TestHoldAndGoOn(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t), Reps: 4}, Source: "synth", Seed: 1}, Begin: true})
	until(t, d, "the first rep", func() bool { return len(d.Live.Lines) == 1 })
	d.FocusLost()
	until(t, d, "the hold", func() bool { return d.Live.Phase == view.Held })
	d.Pause()
	until(t, d, "the end", func() bool { return d.Live.Phase == view.Over })
	logs := runs(t)
	if len(logs) != 2 || logs[0].Drill.Reps > 3 || logs[0].Drill.Reps < 1 || logs[1].Drill.Reps != 3 {
		t.Fatalf("%d logs, of %d and %d reps", len(logs), logs[0].Drill.Reps, logs[1].Drill.Reps)
	}
	if !slices.ContainsFunc(logs[1].Header.Extra, func(m record.Member) bool { return m.Key == "continues" }) {
		t.Errorf("the second part does not say that it goes on: %v", logs[1].Header.Extra)
	}
}

// Closing in mid-run keeps the run, with the reps that were begun.
func TestCloseKeepsTheRun(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t), Reps: 40}, Source: "synth"}, Begin: true})
	until(t, d, "the first rep", func() bool { return len(d.Live.Lines) >= 1 })
	d.Close(5 * time.Second)
	if l := runs(t); len(l) != 1 || l[0].Drill.Reps < 1 || l[0].Drill.Reps > 4 || len(l[0].Edges) < 6 || len(l[0].Warnings) != 0 {
		t.Errorf("kept: %d runs, %+v", len(l), l)
	}
}

// The sheet: searching, choosing, changing and typing; what is wrong is said
// and is not played; what was chosen is there the next time.
func TestSheet(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{Click: practice.Click{Subdivide: 1, LoudnessDB: -12}}})
	if len(d.Sheet.Drills) < 40 || d.Sheet.Live == nil {
		t.Fatalf("%d drills, still %v", len(d.Sheet.Drills), d.Sheet.Live)
	}
	for _, r := range "corner hoo" {
		d.Write(r)
	}
	if n := len(d.Sheet.Drills); n < 1 || n > 3 || d.Sheet.Drills[d.Sheet.Chosen].ID != "corner-hook" {
		t.Fatalf("searching leaves %d: %v, chosen %d", n, d.Sheet.Drills, d.Sheet.Chosen)
	}
	tempo, value := field(d, "tempo")
	d.Focus(tempo)
	d.ChangeFocused(10)
	d.ChangeFocused(-1)
	if _, v := field(d, "tempo"); v == value || d.Sheet.Live.BPM == 0 {
		t.Errorf("tempo stays %s", v)
	}
	for range 5 {
		d.Erase()
	}
	for _, r := range "1e" {
		d.Write(r)
	}
	if d.Sheet.Fault == "" {
		t.Error("a tempo of 1e is taken")
	}
	d.Erase()
	for _, r := range "55.5" {
		d.Write(r)
	}
	if _, v := field(d, "tempo"); v != "155.5" || d.Sheet.Fault != "" || d.Sheet.Live.BPM != 155.5 {
		t.Errorf("tempo is %q, drawn at %v, fault %q", v, d.Sheet.Live.BPM, d.Sheet.Fault)
	}
	windows, _ := field(d, "windows")
	d.Focus(windows)
	d.ChangeFocused(-5)
	if w := d.Sheet.Live.Windows[0]; w.Early != -20*pad.Millisecond || w.Late != 25*pad.Millisecond {
		t.Errorf("windows half as wide: %v", w)
	}
	d.ChangeFocused(-5) // nothing would be left of them
	if w := d.Sheet.Live.Windows[0]; w.Early != -20*pad.Millisecond {
		t.Errorf("windows were made %v", w)
	}
	shoe, _ := field(d, "shoe")
	d.Focus(shoe)
	d.ChangeFocused(3)
	player, _ := field(d, "player")
	d.Focus(player)
	d.Erase()
	for range 20 {
		d.Erase()
	}
	for _, r := range "Ada" {
		d.Write(r)
	}
	perBeat, _ := field(d, "clicks a beat") // corner hook has 4 slots a beat: 1, 2 or 4
	d.Change(perBeat, 1)
	if _, v := field(d, "clicks a beat"); v != "2" {
		t.Errorf("clicks a beat: %s", v)
	}
	loudness, _ := field(d, "loudness")
	d.Change(loudness, -7)
	if _, v := field(d, "loudness"); v != "-19" {
		t.Errorf("loudness: %s", v)
	}
	mirror, _ := field(d, "mirror")
	d.Change(mirror, 1)
	if d.Sheet.Live.Notes[0].Panel != 1 { // corner hook begins at se; mirrored at sw
		t.Errorf("mirrored, the drill begins on panel %d", d.Sheet.Live.Notes[0].Panel)
	}
	d.Close(time.Second)
	s, err := profile.LoadSettings()
	if err != nil || s.ShoeMM != 303 || s.Player != "Ada" || s.Drill != "corner-hook" {
		t.Errorf("kept: %+v, %v", s, err)
	}
	again := newDesk(t, desk.Config{})
	if again.Sheet.Drills[again.Sheet.Chosen].ID != "corner-hook" {
		t.Error("the drill of last time is not chosen")
	}
}

// Every field can be stepped and typed into with anything without harm.
func TestFieldsTakeAnything(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{})
	for i := range d.Sheet.Fields {
		d.Focus(i)
		for _, n := range []int{1, -1, 10, -1000000, 1000000, -1000000} {
			d.ChangeFocused(n)
		}
		for _, r := range "x-1/0,\x00é∞999999999999999999999" {
			d.Write(r)
		}
		for range 60 {
			d.Erase()
		}
		d.Move(1)
		if d.Sheet.Fields[i].Help == "" || d.Sheet.Fields[i].Name == "" {
			t.Errorf("field %d has no name or no help", i)
		}
	}
	d.Begin()
	until(t, d, "the sheet again, or a run", func() bool { return d.Page == desk.Running || d.Sheet.Fault != "" })
}

// A pad that is not there is said on the sheet.
func TestNoPad(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: "corner-hook"}, Source: "pad"}, Begin: true})
	until(t, d, "the fault", func() bool {
		return d.Page == desk.Choosing && strings.Contains(d.Sheet.Fault, "no pad has been taught")
	})
}

// Keys are taught panel by panel, a key twice is refused, and the first ones come back.
func TestTeachKeys(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: "corner-hook"}}})
	d.TeachKeys()
	if d.Page != desk.Teaching || d.Teach.Asked != 0 || !strings.Contains(d.Teach.Say, "nw") || !strings.Contains(d.Teach.Limits, "one frame") {
		t.Fatalf("%+v", d.Teach)
	}
	for _, k := range []string{"A", "A", "B", "C", "D", "E"} {
		d.GiveKey(k)
	}
	k, err := profile.LoadKeys()
	if err != nil || strings.Join(k["single"], "") != "ABCDE" || k["double"][0] != "R" || d.Teach.Asked != -1 {
		t.Errorf("kept: %v, %v; %+v", k, err, d.Teach)
	}
	d.TeachKeys()
	d.DefaultKeys()
	if k, _ := profile.LoadKeys(); strings.Join(k["single"], " ") != "R F Space U J" {
		t.Errorf("the first keys: %v", k)
	}
	d.End()
	if d.Page != desk.Choosing {
		t.Error("the page is not left")
	}
}

// Every figure that is shown is explained on the help page.
func TestHelpExplainsEveryFigure(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t)}, Source: "synth"}, Begin: true})
	until(t, d, "the run to be over", func() bool { return d.Live.Phase == view.Over })
	d.ShowHelp()
	for _, f := range d.Live.Figures {
		name, _, _ := strings.Cut(f.Name, ",")
		found := false
		for _, topic := range d.Help.Topics {
			found = found || strings.HasPrefix(topic.Name, name) && topic.Text == f.Help && strings.Contains(topic.Name, f.Unit)
		}
		if !found || f.Help == "" {
			t.Errorf("%s is not explained", f.Name)
		}
	}
	d.ShowHelp()
	if d.Page != desk.Running {
		t.Error("help does not lead back")
	}
}

// silentClicks counts what it is asked to sound.
type silentClicks struct {
	played, stopped int
	last            *click.Schedule
}

func (c *silentClicks) Play(s *click.Schedule, _ practice.Click, _ input.Clock) {
	c.played++
	c.last = s
}
func (c *silentClicks) Stop()          { c.stopped++ }
func (c *silentClicks) Status() string { return "no sound device" }

// The click begins with the run, ends with it, and why it is silent is shown.
func TestClick(t *testing.T) {
	home(t)
	c := &silentClicks{}
	d := newDesk(t, desk.Config{Click: c, Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t)}, Source: "synth", Click: practice.Click{Sound: "tick"}}, Begin: true})
	until(t, d, "the run to be over", func() bool { return d.Live.Phase == view.Over })
	if c.played != 1 || c.stopped == 0 || d.Live.Sound != "no sound device" {
		t.Errorf("%+v, %q", c, d.Live.Sound)
	}
	if due, _ := c.last.At(0); due != 500*pad.Millisecond {
		t.Errorf("the first click is due at %d µs", due)
	}
}

// evening is a pad that plays a recording of HID reports once, in its own time,
// whoever listens: what nobody listens to is lost, as with a pad.
type evening struct {
	script input.Script
	next   pad.Edge
	begun  time.Time
	err    error
}

func (p *evening) Describe() string { return "recorded pad" }

func (p *evening) Run(ctx context.Context, clock input.Clock, q *input.Queue) error {
	if p.begun.IsZero() {
		p.begun = time.Now()
		p.next, p.err = p.script.Next()
	}
	for p.err == nil {
		wait := time.Until(p.begun.Add(p.next.T.Duration()))
		if wait < -5*time.Millisecond { // nobody listened
			p.next, p.err = p.script.Next()
			continue
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
			return nil
		}
		e := p.next
		e.T = clock.Now()
		q.Put(e)
		p.next, p.err = p.script.Next()
	}
	<-ctx.Done()
	return nil
}

// An evening without hands: from a recording of the pad's reports alone the
// drill is played again, faster, mirrored, and the evening ends.
func TestHandsFreeEvening(t *testing.T) {
	home(t)
	d := newDesk(t, desk.Config{Keys: recordedEvening(t), Choice: practice.Choice{DrillChoice: practice.DrillChoice{Drill: short(t)}, Source: "keys"}, Begin: true})
	until(t, d, "the evening's end", func() bool { return d.Page == desk.Choosing })
	logs := runs(t)
	if len(logs) != 3 {
		t.Fatalf("%d runs were played", len(logs))
	}
	for i, want := range []struct {
		bpm   float64
		steps string
	}{{300, "sw c ne ."}, {300, "sw c ne ."}, {305, "se c nw ."}} {
		l := logs[i]
		if l.Drill.BPM != want.bpm || l.Drill.Steps != want.steps {
			t.Errorf("run %d: %v beats a minute, %s", i, l.Drill.BPM, l.Drill.Steps)
		}
		down := 0
		for _, e := range l.Edges {
			if e.Kind == pad.Down {
				down++
			}
		}
		if want := []int{2, 2, 0}[i]; down != want {
			t.Errorf("run %d has %d presses, want %d", i, down, want)
		}
	}
}

// recordedEvening writes an evening as the reports of the game pad of HID 1.11
// (two bytes, panel n at bit n), opens it through a pad profile, and gives it as a pad.
func recordedEvening(t *testing.T) input.Source {
	var buf bytes.Buffer
	w, err := record.NewReportWriter(&buf, record.ReportHeader{Layout: "single",
		Devices: []record.ReportDevice{{Identity: input.Identity{Vendor: 0x1209, Product: 1}, Name: "ten buttons"}}})
	if err != nil {
		t.Fatal(err)
	}
	report := func(at pad.Time, panels ...pad.Panel) {
		if err := w.Report(at, 0, []byte{byte(pad.SetOf(panels...)), 0}); err != nil {
			t.Fatal(err)
		}
	}
	const s = pad.Second
	held := func(at, long pad.Time, p pad.Panel) { report(at, p); report(at+long, nil...) }
	const nw, sw, c, ne = 0, 1, 2, 3
	report(0)
	// Each run lasts 0.5 s, 0.4 s of count-in and 1.6 s of two reps; it is over
	// about 0.2 s later, and 1.5 s after that orders are taken.
	held(s, 80_000, sw)
	held(s+900_000, 1_500_000, c) // in the run, held past an order's time: no order
	held(6*s, 1_500_000, c)       // again
	held(8*s+500_000, 80_000, sw)
	held(9*s, 80_000, sw)
	held(12*s+500_000, 1_500_000, ne) // tempo up
	held(14*s+500_000, 1_500_000, nw) // mirror
	held(16*s+500_000, 1_500_000, c)  // again
	held(23*s, 1_500_000, sw)         // stop
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "evening.jsonl")
	if err := os.WriteFile(file, buf.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	m := &input.Map{Layout: pad.Single, Devices: []input.Device{{Name: "ten buttons", Identity: input.Identity{Vendor: 0x1209, Product: 1}}}}
	for p := range pad.Single.Panels {
		m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(p), Offset: 0, Mask: 1 << p})
	}
	script, err := record.OpenReports(file, m)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { script.Close() })
	return &evening{script: script}
}
