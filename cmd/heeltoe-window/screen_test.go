package main

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jezek/xgb"
	"github.com/jezek/xgb/xproto"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/render"
	"heeltoe/trainer/desk"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

// screen takes a picture of what the X server shows, over its own protocol.
func screen(t testing.TB) *image.RGBA {
	t.Helper()
	x, err := xgb.NewConn()
	if err != nil {
		t.Fatal(err)
	}
	defer x.Close()
	s := xproto.Setup(x).DefaultScreen(x)
	w, h := s.WidthInPixels, s.HeightInPixels
	r, err := xproto.GetImage(x, xproto.ImageFormatZPixmap, xproto.Drawable(s.Root), 0, 0, w, h, ^uint32(0)).Reply()
	if err != nil {
		t.Fatal(err)
	}
	img := image.NewRGBA(image.Rect(0, 0, int(w), int(h)))
	for i := 0; i+3 < len(r.Data); i += 4 { // 24 bits in 32, blue first
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = r.Data[i+2], r.Data[i+1], r.Data[i], 255
	}
	return img
}

// tolerance is how far a colour may be off: other versions of Mesa round otherwise.
const tolerance = 2

// apart counts the pixels of two pictures that differ by more than the tolerance.
func apart(a, b *image.RGBA) int {
	if a.Rect != b.Rect {
		return a.Rect.Dx() * a.Rect.Dy()
	}
	n := 0
	for i := 0; i < len(a.Pix); i += 4 {
		for k := range 3 {
			if d := int(a.Pix[i+k]) - int(b.Pix[i+k]); d > tolerance || d < -tolerance {
				n++
				break
			}
		}
	}
	return n
}

// program is the window's program, run as a process of its own with the
// settings and runs of the test.
type program struct {
	t     testing.TB
	cmd   *exec.Cmd
	err   bytes.Buffer
	ended chan struct{}
}

// begin starts the program; it is killed at the test's end where it still runs.
func (p *program) begin() {
	p.t.Helper()
	p.ended = make(chan struct{})
	p.cmd.WaitDelay = 5 * time.Second
	if err := p.cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	go func() { _ = p.cmd.Wait(); close(p.ended) }()
	p.t.Cleanup(p.kill)
}

func (p *program) kill() {
	_ = p.cmd.Process.Kill()
	<-p.ended
}

func start(t testing.TB, env []string, args ...string) *program {
	t.Helper()
	p := &program{t: t, cmd: exec.Command(os.Args[0], args...)}
	p.cmd.Env = append(os.Environ(), env...)
	p.cmd.Stderr = &p.err
	p.cmd.Stdout = &p.err
	p.begin()
	p.wait("its window", func() bool {
		out, _ := exec.Command("xdotool", "search", "--onlyvisible", "--pid", fmt.Sprint(p.cmd.Process.Pid)).Output()
		return len(out) > 0
	})
	out, _ := exec.Command("xdotool", "search", "--onlyvisible", "--pid", fmt.Sprint(p.cmd.Process.Pid)).Output()
	p.do("windowmove", strings.Fields(string(out))[0], "0", "0")
	p.do("windowfocus", strings.Fields(string(out))[0])
	return p
}

func (p *program) wait(what string, holds func() bool) {
	p.t.Helper()
	for end := time.Now().Add(20 * time.Second); !holds(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			p.t.Fatalf("waited in vain for %s: %s", what, p.err.String())
		}
	}
}

// do has xdotool do something as a hand would.
func (p *program) do(args ...string) {
	p.t.Helper()
	if out, err := exec.Command("xdotool", args...).CombinedOutput(); err != nil {
		p.t.Fatalf("xdotool %v: %v: %s", args, err, out)
	}
}

// tap holds a key as long as a finger does: what is shorter than a frame is not seen.
func (p *program) tap(key string) {
	p.t.Helper()
	p.do("keydown", key)
	time.Sleep(100 * time.Millisecond)
	p.do("keyup", key)
	time.Sleep(60 * time.Millisecond)
}

// exit waits for the program's end and gives its exit code.
func (p *program) exit() int {
	select {
	case <-p.ended:
		return p.cmd.ProcessState.ExitCode()
	case <-time.After(20 * time.Second):
		p.t.Fatal("the program does not end")
		return -1
	}
}

// logs gives the runs that were kept, the oldest first.
func logs(t testing.TB) []string {
	files, err := filepath.Glob(filepath.Join(store.RunsDir(store.Dir()), "*", "*.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	return files
}

func home(t testing.TB) {
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Setenv("XDG_DATA_HOME", t.TempDir())
}

// A drill is picked with the keyboard, played with overlapping keys and ended,
// as a player would. The run's log has the overlaps; its review and the figures
// on the screen agree: the screen is compared with the page drawn from the review.
func TestDriven(t *testing.T) {
	home(t)
	p := start(t, []string{asProgram + "=1"})
	time.Sleep(500 * time.Millisecond)
	p.do("type", "--delay", "80", "corner hook")
	// The fifth field below the drill is the reps; three will do.
	for range 5 {
		p.tap("Down")
	}
	for range 3 {
		p.tap("BackSpace")
	}
	p.do("type", "--delay", "80", "3")
	p.tap("Return")
	p.wait("the run", func() bool { return len(logs(t)) == 1 })
	time.Sleep(2500 * time.Millisecond) // the count-in
	const beat = 150 * time.Millisecond
	file := logs(t)[0]
	acts := 0
	for _, keys := range [][2]string{{"j", "u"}, {"space", "f"}, {"r", "j"}} {
		for _, act := range []string{"keydown 0", "keydown 1", "keyup 0", "keyup 1"} {
			verb, which, _ := strings.Cut(act, " ")
			p.do(verb, keys[which[0]-'0'])
			time.Sleep(beat)
			// On a busy machine a frame may last longer than a beat, and keys of one frame
			// have no order: so each is let come before the next.
			acts++
			p.wait("the key", func() bool {
				l, err := record.ReadLog(file)
				return err == nil && len(l.Edges) >= acts
			})
		}
	}
	time.Sleep(3500 * time.Millisecond) // the run is over
	l, err := record.ReadLog(file)
	if err != nil {
		t.Fatal(err)
	}
	var order []string
	for _, e := range l.Edges {
		mark := "-"
		if e.Kind == pad.Down {
			mark = "+"
		}
		order = append(order, mark+l.Layout.ID(e.Panel))
	}
	if got, want := strings.Join(order, " "), "+se +ne -se -ne +c +sw -c -sw +nw +se -nw -se"; got != want {
		t.Errorf("the log has the edges %s, want %s", got, want)
	}
	if l.Header.Pad != "keyboard, exact to a frame" || l.Drill.Name != "corner hook" || l.Drill.Reps != 3 {
		t.Errorf("the log's header: pad %q, drill %q, %d reps", l.Header.Pad, l.Drill.Name, l.Drill.Reps)
	}
	rep, err := practice.Review(file)
	if err != nil {
		t.Fatal(err)
	}
	if s := rep.Summary; s.Presses != 6 || s.Notes != 15 || s.Absent+s.Inner+s.Middle+s.Outer != 15 {
		t.Errorf("the review: %+v", s)
	}
	got := screen(t)
	keep(t, "driven", got)
	if n := apart(figuresOf(got), figuresOf(pageOf(t, l, rep, file))); n > 0 {
		t.Errorf("figures and chart on the screen differ from those of the review in %d pixels", n)
	}
	rep.Summary.Inner++ // one note shows
	if n := apart(figuresOf(got), figuresOf(pageOf(t, l, rep, file))); n == 0 {
		t.Error("a figure that differs is not seen")
	}
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); { // back to the sheet, then out
		p.tap("Escape")
		select {
		case <-p.ended:
			end = time.Now()
		case <-time.After(700 * time.Millisecond):
		}
	}
	if code := p.exit(); code != exitDone {
		t.Errorf("exit %d: %s", code, p.err.String())
	}
}

// pageOf draws the page of a run that is over from its log and its review.
func pageOf(t testing.TB, l *record.Log, rep *view.Report, file string) *image.RGBA {
	c := &live.Config{Drill: l.Drill, Options: judge.Options{Lead: l.Header.Lead, Windows: l.Header.Windows}}
	f := live.NewFollower(c, 0)
	c.Fed, c.Events = f.Fed, f.Events
	var v view.Live
	live.Still(&v, l.Drill, l.Header.Windows)
	e := live.NewEngine(c)
	for _, edge := range l.Edges {
		e.Feed(edge)
	}
	g := l.Drill.Grid(l.Header.Lead)
	e.Advance(g.Due(l.Drill.Reps, 0) + pad.Second)
	f.Fill(&v, g.Due(l.Drill.Reps, 0))
	live.FiguresOf(&v, rep, l.Drill.Reps, l.Drill.Reps)
	v.Phase, v.Next, v.Notice, v.Source = view.Over, nil, "Kept as "+file, l.Header.Pad
	v.Orders = desk.NewOrders(l.Layout, 0).View(nil) // they make room for themselves
	pic := render.NewPicture(1280, 720)
	s := render.Screen{Hints: keysPlay}
	s.Live(pic, 1280, 720, &v)
	return pic.Image()
}

// figuresOf cuts the timing chart and the figures out of the run's page.
func figuresOf(page *image.RGBA) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, 1280, 720))
	for _, r := range []image.Rectangle{image.Rect(290, 362, 1024, 650), image.Rect(1028, 75, 1280, 650)} {
		draw.Draw(out, r, page, r.Min, draw.Src)
	}
	return out
}

// keep writes a picture where HEELTOE_TEST_PICTURES names a folder, to be looked at.
func keep(t testing.TB, name string, img image.Image) {
	dir := os.Getenv("HEELTOE_TEST_PICTURES")
	if dir == "" {
		return
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// goldens are pages of the real window: what the measured window shows, still.
var goldens = []string{"still live", "still desk", "still teach", "still help"}

// settled shows a window and gives the screen once it stays the same for a
// while and is what is wanted, or else what there is after some seconds.
func settled(t testing.TB, name string, want *image.RGBA) *image.RGBA {
	t.Helper()
	p := start(t, []string{asWindow + "=" + name, "HEELTOE_TEST_SECONDS=60"})
	defer p.kill()
	var got *image.RGBA
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); {
		before := got
		time.Sleep(700 * time.Millisecond)
		if got = screen(t); before != nil && apart(before, got) == 0 && (want == nil || apart(got, want) == 0) {
			break
		}
	}
	keep(t, strings.ReplaceAll(name, " ", "-"), got)
	return got
}

// A few pages of the real window, against pictures that were looked at. The same
// page reached through many frames, of which only what changed was drawn, and
// through one, is the same to the last pixel.
func TestGoldenWindows(t *testing.T) {
	dir := "testdata"
	known := map[string]bool{}
	for _, name := range goldens {
		file := filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".png")
		known[filepath.Base(file)] = true
		if *update {
			got := settled(t, name, nil)
			var b bytes.Buffer
			enc := png.Encoder{CompressionLevel: png.BestCompression}
			if err := enc.Encode(&b, got); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		want := image.NewRGBA(img.Bounds())
		draw.Draw(want, want.Rect, img, image.Point{}, draw.Src)
		got := settled(t, name, want)
		if n := apart(got, want); n > 0 {
			t.Errorf("%s: %d pixels differ; run with -update and look at what changed", file, n)
		}
		if name == "still live" {
			if n := apart(got, settled(t, "moved live", got)); n > 0 {
				t.Errorf("drawn piece by piece, %d pixels differ from the page drawn at once", n)
			}
		}
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !known[f.Name()] {
			t.Errorf("%s is no golden of any test", f.Name())
		}
	}
}

// SIGTERM in mid-run keeps the run whole, and the program ends as it should.
func TestSigtermKeepsTheRun(t *testing.T) {
	home(t)
	p := start(t, []string{asProgram + "=1"}, "corner-hook", "--source", "synth", "--reps", "400")
	p.wait("two reps", func() bool {
		f := logs(t)
		if len(f) == 0 {
			return false
		}
		l, err := record.ReadLog(f[0])
		return err == nil && len(l.Edges) > 20
	})
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if code := p.exit(); code != exitDone {
		t.Errorf("exit %d: %s", code, p.err.String())
	}
	l, err := record.ReadLog(logs(t)[0])
	if err != nil || l.Drill.Reps > 20 || len(l.Warnings) != 0 || len(l.Edges) < 20 {
		t.Errorf("the log: %v, %d reps, %v", err, l.Drill.Reps, l.Warnings)
	}
}

// heeltoe live opens the window where there is a display, hands its flags on,
// and passes a signal on, so that the run is kept; without a display it plays as text.
func TestLiveOpensTheWindow(t *testing.T) {
	home(t)
	dir := t.TempDir()
	if out, err := exec.Command("go", "build", "-o", dir+"/", "heeltoe/cmd/heeltoe", "heeltoe/cmd/heeltoe-window").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	p := &program{t: t, cmd: exec.Command(filepath.Join(dir, "heeltoe"), "live", "corner-hook", "--source", "synth", "--reps", "300", "--bpm", "200")}
	p.cmd.Stderr = &p.err
	p.begin()
	p.wait("the run", func() bool {
		f := logs(t)
		if len(f) == 0 {
			return false
		}
		l, err := record.ReadLog(f[0])
		return err == nil && len(l.Edges) > 20
	})
	if out, err := exec.Command("xdotool", "search", "--onlyvisible", "--name", "heeltoe").Output(); err != nil || len(out) == 0 {
		t.Errorf("no window is seen: %v", err)
	}
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if code := p.exit(); code != exitDone {
		t.Errorf("exit %d: %s", code, p.err.String())
	}
	if l, err := record.ReadLog(logs(t)[0]); err != nil || l.Drill.BPM != 200 || l.Drill.Reps >= 300 || len(l.Warnings) != 0 {
		t.Errorf("the log: %v, %+v", err, l)
	}
	text := exec.Command(filepath.Join(dir, "heeltoe"), "live", "corner-hook", "--source", "synth", "--reps", "1", "--bpm", "300", "--click", "off")
	text.Env = append(os.Environ(), "DISPLAY=")
	out, err := text.Output()
	if err != nil || !strings.Contains(string(out), "there is no display") || !strings.Contains(string(out), "rep 1 of 1") {
		t.Errorf("without a display: %v: %s", err, out)
	}
}

// Wrong flags: exit 2 and the reason. No display: exit 3 and the reason, not a
// crash of the window's library.
func TestExitCodes(t *testing.T) {
	home(t)
	for _, c := range []struct {
		args    []string
		display string
		code    int
		says    string
	}{
		{[]string{"--size", "100x100"}, "as it is", exitInput, "at least 800x600"},
		{[]string{"--size", "wide"}, "as it is", exitInput, "at least 800x600"},
		{[]string{"no-such-drill"}, "as it is", exitInput, "no built-in drill"},
		{[]string{"corner-hook", "--windows", "1"}, "as it is", exitInput, "three pairs"},
		{[]string{"--nonsense"}, "as it is", exitInput, "unknown flag"},
		{nil, "", exitLacking, "there is no display"},
		{nil, ":97", exitLacking, "no display answers at :97"},
	} {
		cmd := exec.Command(os.Args[0], c.args...)
		cmd.Env = append(os.Environ(), asProgram+"=1")
		if c.display != "as it is" {
			cmd.Env = append(cmd.Env, "DISPLAY="+c.display)
		}
		out, err := cmd.CombinedOutput()
		if err == nil || cmd.ProcessState.ExitCode() != c.code || !strings.Contains(string(out), c.says) || strings.Contains(string(out), "panic") {
			t.Errorf("%v at display %q: exit %d: %s; want %d and %q", c.args, c.display, cmd.ProcessState.ExitCode(), out, c.code, c.says)
		}
	}
}
