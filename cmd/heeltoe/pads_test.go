package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/input/usb"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
)

// handClock is moved by hand while it is driven, and else by itself.
type handClock struct {
	mu     sync.Mutex
	now    pad.Time
	until  pad.Time // what is, or was, waited for
	driven bool
}

// drive tells whether somebody moves the clock.
func (c *handClock) drive(driven bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.driven = driven
}

// free tells whether nobody does.
func (c *handClock) free() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return !c.driven
}

// awaited tells whether somebody waits for a later moment.
func (c *handClock) awaited() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now < c.until
}

func (c *handClock) Now() pad.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *handClock) add(d pad.Time) pad.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += d
	return c.now
}

func (c *handClock) Until(ctx context.Context, t pad.Time) error {
	c.mu.Lock()
	c.until = max(c.until, t)
	c.mu.Unlock()
	still, since := c.Now(), time.Now()
	for now := still; now < t; now = c.Now() {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if now != still {
			still, since = now, time.Now()
		} else if c.free() && time.Since(since) > 20*time.Millisecond {
			c.add(t - now)
		}
		time.Sleep(50 * time.Microsecond)
	}
	return ctx.Err()
}

// pupil is a player who follows the prompts, on a pad of a byte that shows its
// panels as bits and a byte that counts.
type pupil struct {
	clock *handClock
	// presses tells how often the pupil presses what the prompt asks for.
	presses func(prompt string) int
	stop    pad.Time // when the pad is unplugged; 0: never

	mu      sync.Mutex
	said    []string
	panel   int // -1: none
	n       int
	prompts pad.Time
}

// Write takes what the coach says.
func (p *pupil) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for line := range strings.Lines(string(b)) {
		line = strings.TrimSpace(line)
		p.said = append(p.said, line)
		p.panel = -1
		_, asked, ok := strings.Cut(strings.ToLower(line), "press ")
		if id, _, cut := strings.Cut(asked, " "); ok && cut {
			if q, found := pad.Single.Lookup(id); found {
				p.panel, p.n, p.prompts = int(q), p.presses(line), p.clock.Now()
			}
		}
	}
	return len(b), nil
}

// report is what the pad says at t: each press lasts 120 ms of 300.
func (p *pupil) report(t pad.Time) byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	since := t - p.prompts - 200*pad.Millisecond
	if p.panel < 0 || since < 0 || since/(300*pad.Millisecond) >= pad.Time(p.n) || since%(300*pad.Millisecond) >= 120*pad.Millisecond {
		return 0
	}
	return 1 << p.panel
}

func (p *pupil) read(ctx context.Context, _ input.Clock, each func(pad.Time, int, []byte) error) error {
	p.clock.drive(true)
	defer p.clock.drive(false)
	for k := byte(0); ctx.Err() == nil; k++ {
		for !p.clock.awaited() && ctx.Err() == nil { // the coach is busy: time waits for it
			time.Sleep(10 * time.Microsecond)
		}
		t := p.clock.add(4 * pad.Millisecond)
		if p.stop > 0 && t > p.stop {
			return usb.ErrUnplugged
		}
		if err := each(t, 0, []byte{k, p.report(t)}); err != nil {
			return err
		}
		time.Sleep(20 * time.Microsecond)
	}
	return nil
}

func (p *pupil) text() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Join(p.said, "\n")
}

func coached(t *testing.T, p *pupil, keep string) (*coach, *recorder) {
	t.Helper()
	p.clock, p.panel = &handClock{}, -1
	rec, err := newRecorder(keep, record.ReportHeader{Layout: "single", Devices: make([]record.ReportDevice, 1)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(rec.abandon)
	return &coach{out: p, teacher: input.NewTeacher(pad.Single, 3), rec: rec, layout: pad.Single, presses: 3, clock: p.clock, wait: 8 * pad.Second, read: p.read}, rec
}

// A player who presses once too often at first is asked again; the teaching
// that was kept teaches the same.
func TestCoach(t *testing.T) {
	wrong := true
	p := &pupil{presses: func(prompt string) int {
		if strings.Contains(prompt, "sw") && wrong {
			wrong = false
			return 4
		}
		return 3
	}}
	keep := filepath.Join(t.TempDir(), "teach.jsonl")
	co, rec := coached(t, p, keep)
	if err := co.lead(t.Context()); err != nil {
		t.Fatalf("%v\n%s", err, p.text())
	}
	if err := rec.close(); err != nil {
		t.Fatal(err)
	}
	devices := make([]input.Device, 1)
	m, _, err := co.teacher.Map(devices)
	if err != nil {
		t.Fatalf("%v\n%s", err, p.text())
	}
	for i, s := range m.Sensors {
		if s.Offset != 1 || s.Mask != 1<<i {
			t.Errorf("panel %d is read at %s", i, s)
		}
	}
	if said := p.text(); strings.Count(said, "\n") < 6 || !strings.Contains(said, "That was 4 times. Once more: press sw 3 times.") {
		t.Errorf("the coach said:\n%s", said)
	}
	again := input.NewTeacher(pad.Single, 3)
	f, err := os.Open(keep)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rr, err := record.NewReportReader(keep, f)
	if err == nil {
		err = record.TeachReports(rr, again, pad.Single)
	}
	if err != nil {
		t.Fatal(err)
	}
	if k, _, err := again.Map(devices); err != nil || !reflect.DeepEqual(k, m) {
		t.Errorf("the recording teaches %+v, %v; the pad %+v", k, err, m)
	}
}

// A panel that nothing follows, and a pad that is unplugged, end the teaching
// with what to do; nothing is kept.
func TestCoachGivesUp(t *testing.T) {
	for name, c := range map[string]struct {
		pupil *pupil
		says  string
	}{
		"a dead panel": {&pupil{presses: func(prompt string) int {
			if strings.Contains(prompt, "c 3") {
				return 0
			}
			return 3
		}}, "c was seen to be pressed 0 times within 8s, not 3 times"},
		"unplugged": {&pupil{presses: func(string) int { return 3 }, stop: 4 * pad.Second}, usb.ErrUnplugged.Error()},
	} {
		t.Run(name, func(t *testing.T) {
			keep := filepath.Join(t.TempDir(), "teach.jsonl")
			co, rec := coached(t, c.pupil, keep)
			err := co.lead(t.Context())
			rec.abandon()
			var l *practice.Lacking
			if !errors.As(err, &l) || !strings.Contains(l.Error(), c.says) {
				t.Errorf("got %v", err)
			}
			if _, err := os.Stat(keep); err == nil {
				t.Error("a recording was kept")
			}
		})
	}
	t.Run("stopped", func(t *testing.T) {
		p := &pupil{presses: func(string) int { return 0 }}
		co, _ := coached(t, p, "")
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(20*time.Millisecond, cancel)
		var l *practice.Lacking
		if err := co.lead(ctx); !errors.As(err, &l) {
			t.Errorf("got %v", err)
		}
	})
}

func TestPick(t *testing.T) {
	game, err := input.ParseDescriptor([]byte{
		0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x0a, 0x15, 0x00, 0x25,
		0x01, 0x75, 0x01, 0x95, 0x0a, 0x81, 0x02, 0x75, 0x06, 0x95, 0x01, 0x81, 0x03, 0xc0})
	if err != nil {
		t.Fatal(err)
	}
	dev := func(product uint16, serial string, d *input.Descriptor) usb.Device {
		id := input.Identity{Vendor: 0x1209, Product: product, Serial: serial}
		return usb.Device{Identity: id, Path: id.String(), Descriptor: d}
	}
	keys, a, b := dev(9, "", nil), dev(1, "A", game), dev(1, "B", game)
	for _, c := range []struct {
		name   string
		list   []usb.Device
		wanted []string
		want   string // paths, or the start of the error
	}{
		{"the only one", []usb.Device{keys}, nil, "1209:0009"},
		{"the only controller", []usb.Device{keys, a}, nil, "1209:0001:A"},
		{"two controllers", []usb.Device{a, b}, nil, "choose a device"},
		{"by its beginning", []usb.Device{keys, a}, []string{"1209:0001"}, "1209:0001:A"},
		{"in full", []usb.Device{a, b}, []string{"1209:0001:B", "1209:0001:A"}, "1209:0001:B 1209:0001:A"},
		{"fits two", []usb.Device{a, b}, []string{"1209:0001"}, "--device 1209:0001 fits several"},
		{"twice", []usb.Device{a, b}, []string{"1209:0001:A", "1209:0001:A"}, "--device 1209:0001:A is named twice"},
		{"not there", []usb.Device{a}, []string{"1209:0002"}, "1209:0002 is not plugged in"},
		{"three", []usb.Device{a}, []string{"x", "y", "z"}, "--device: a pad"},
	} {
		got, err := pick(c.list, c.wanted, "…")
		var paths []string
		for _, d := range got {
			paths = append(paths, d.Path)
		}
		text := strings.Join(paths, " ")
		if err != nil {
			text = err.Error()
		}
		if !strings.HasPrefix(text, c.want) {
			t.Errorf("%s: %s, want %s", c.name, text, c.want)
		}
	}
}

// Every kind of pad that is shipped as a recording is taught from it, kept,
// shown, and not replaced unasked.
func TestTeachFromRecordings(t *testing.T) {
	home(t)
	files, err := filepath.Glob("../../testdata/reports/*-teach.jsonl")
	if err != nil || len(files) < 9 {
		t.Fatalf("%d recordings, %v", len(files), err)
	}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), "-teach.jsonl")
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		layout := "single"
		if bytes.Contains(text[:100], []byte(`"double"`)) {
			layout = "double"
		}
		out := must(t, "pads", "teach", "--from", f, "--name", name, "--layout", layout)
		if !strings.Contains(out, profile.PadFile(name)) {
			t.Errorf("%s: %s", name, out)
		}
		if shown := must(t, "pads", "show", name); !strings.HasPrefix(out, shown) || !strings.Contains(shown, "byte ") {
			t.Errorf("%s is shown as %s", name, shown)
		}
		if code, out, _ := heeltoe("", "pads", "teach", "--from", f, "--name", name, "--layout", layout); code != exitInput || out != "" {
			t.Errorf("%s was taught again: exit %d, %s", name, code, out)
		}
		must(t, "pads", "teach", "--from", f, "--name", name, "--layout", layout, "--force")
	}
	var list struct{ Taught []string }
	if err := json.Unmarshal([]byte(must(t, "pads", "list", "--json")), &list); err != nil || len(list.Taught) != len(files) {
		t.Errorf("listed %v, %v", list.Taught, err)
	}
}

// Without a press the buttons are proposed in the order of the report descriptor: on a pad whose
// buttons have the layout's order the map is the one that is taught by pressing. Without a
// descriptor, or with too few buttons in it, nothing is proposed.
func TestTeachAsProposed(t *testing.T) {
	home(t)
	const folder = "../../testdata/reports/"
	from := folder + "ten-buttons-teach.jsonl"
	must(t, "pads", "teach", "--from", from, "--name", "pressed", "--layout", "double")
	code, out, errs := heeltoe("", "pads", "teach", "--propose", "--from", from, "--name", "proposed", "--layout", "double")
	if code != 0 || !strings.Contains(out, profile.PadFile("proposed")) || !strings.Contains(errs, "nothing was pressed") {
		t.Fatalf("exit %d, %q, %q", code, out, errs)
	}
	pressed, err := profile.LoadPad("pressed")
	if err != nil {
		t.Fatal(err)
	}
	proposed, err := profile.LoadPad("proposed")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(pressed.Map.Sensors, proposed.Map.Sensors) || !reflect.DeepEqual(pressed.Map.Devices, proposed.Map.Devices) {
		t.Errorf("proposed %+v, taught %+v", proposed.Map, pressed.Map)
	}
	for _, args := range [][]string{
		{"--from", folder + "analogue-bytes-teach.jsonl"},
		{"--keep", "x.jsonl"},
		{"--road", "events"},
	} {
		code, out, errs := heeltoe("", append([]string{"pads", "teach", "--propose", "--name", "refused"}, args...)...)
		if code != exitInput || out != "" || errs == "" {
			t.Errorf("%v: exit %d, %q, %q", args, code, out, errs)
		}
	}
	if have, err := profile.Slugs(); err != nil || len(have) != 2 {
		t.Errorf("kept %v, %v", have, err)
	}
}

// A recording from which nothing certain follows is refused with every panel
// named, and nothing is written.
func TestTeachRefusesFromRecording(t *testing.T) {
	home(t)
	text, err := os.ReadFile("../../testdata/reports/active-low-teach.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "twice.jsonl")
	// The reports of ne come while se is asked for too.
	swapped := strings.Replace(string(text), `"phase":"se"`, `"phase":"ne"`, 1)
	if err := os.WriteFile(file, []byte(swapped), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := heeltoe("", "pads", "teach", "--from", file, "--name", "x")
	if code != exitInput || out != "" || !strings.HasPrefix(errs, file+":1:1: ") || !strings.Contains(errs, "se: it was not asked for") {
		t.Errorf("exit %d, %q, %q", code, out, errs)
	}
	if have, err := profile.Slugs(); err != nil || len(have) != 0 {
		t.Errorf("kept %v, %v", have, err)
	}
}

// What two readers stamp and then hand over in another order is written in order.
func TestRecorderKeepsTimeFromGoingBack(t *testing.T) {
	file := filepath.Join(t.TempDir(), "r.jsonl")
	rec, err := newRecorder(file, record.ReportHeader{Devices: make([]record.ReportDevice, 2)})
	if err != nil {
		t.Fatal(err)
	}
	defer rec.abandon()
	rec.report(500, 0, []byte{1})
	rec.report(499, 1, []byte{2})
	if err := rec.close(); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rr, err := record.NewReportReader(file, f)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if l, err := rr.Next(); err != nil || l.T != 500 {
			t.Errorf("%+v, %v", l, err)
		}
	}
	if _, err := rr.Next(); err != io.EOF {
		t.Errorf("then %v", err)
	}
}
