package record_test

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
)

var updateReports = flag.Bool("update-reports", false, "write testdata/reports anew")

const reportsDir = "../../testdata/reports"

// knownPress is one press of the tables that the recordings are made from.
type knownPress struct {
	panel    string
	down, up pad.Time // ms
}

// Presses of the playing parts, invented: plain steps, two panels at once, a
// press within another, a short press, overlaps as of a roll.
var (
	singlePresses = []knownPress{
		{"nw", 300, 420}, {"sw", 400, 510}, {"c", 505, 590}, {"ne", 600, 700}, {"se", 600, 710},
		{"c", 800, 1400}, {"nw", 900, 960}, {"nw", 1030, 1090}, {"se", 1100, 1131}, {"sw", 1390, 1470},
		{"ne", 1500, 1600}, {"c", 1540, 1660}, {"sw", 1600, 1700}, {"nw", 1700, 1760}, {"se", 1760, 1850},
	}
	doublePresses = []knownPress{
		{"1nw", 300, 420}, {"1sw", 400, 510}, {"1c", 505, 590}, {"2ne", 600, 700}, {"2se", 600, 710},
		{"2c", 800, 1400}, {"1se", 900, 960}, {"2nw", 1030, 1090}, {"1ne", 1100, 1131}, {"2sw", 1390, 1470},
		{"1c", 1500, 1600}, {"2c", 1540, 1660}, {"2nw", 1600, 1700}, {"1ne", 1600, 1700}, {"1se", 1700, 1850},
	}
)

// rig is a pad of one kind: how its reports show its panels.
type rig struct {
	name    string
	layout  *pad.Layout
	devices []record.ReportDevice
	period  []pad.Time // between two reports of a device; 0: a report only when it changes
	delay   []pad.Time // how much later than the foot each device is
	ramp    pad.Time   // how long a value takes to its level
	// encode gives the reports of a device at one moment. level tells how far a
	// panel is down, 0 to 1; noise gives 0 to n-1.
	encode func(device, tick int, level func(panel int) float64, noise func(n int) int) [][]byte
}

func setBit(report []byte, bit int, on bool) {
	if on {
		report[bit/8] |= 1 << (bit % 8)
	}
}

func device(product uint16, serial, name string, descriptor []byte) record.ReportDevice {
	return record.ReportDevice{Identity: input.Identity{Vendor: 0x1209, Product: product, Serial: serial}, Name: name, Descriptor: descriptor}
}

// tenButtons is a game pad with ten buttons: items of HID 1.11, section 6.2.2.
var tenButtons = []byte{
	0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x0a, 0x15, 0x00, 0x25,
	0x01, 0x75, 0x01, 0x95, 0x0a, 0x81, 0x02, 0x75, 0x06, 0x95, 0x01, 0x81, 0x03, 0xc0,
}

// twoIDs is a game pad with five buttons in each of two reports.
var twoIDs = []byte{
	0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x15, 0x00, 0x25, 0x01, 0x75, 0x01,
	0x85, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x05, 0x95, 0x05, 0x81, 0x02, 0x95, 0x03, 0x81, 0x03,
	0x85, 0x02, 0x05, 0x09, 0x19, 0x06, 0x29, 0x0a, 0x95, 0x05, 0x81, 0x02, 0x95, 0x03, 0x81, 0x03,
	0xc0,
}

// stick is a joystick: two axes of a byte, a hat of four bits, four bits of
// padding, sixteen buttons.
var stick = []byte{
	0x05, 0x01, 0x09, 0x04, 0xa1, 0x01, 0x15, 0x00, 0x26, 0xff, 0x00, 0x75, 0x08, 0x95, 0x02, 0x09, 0x30, 0x09, 0x31, 0x81, 0x02,
	0x25, 0x07, 0x75, 0x04, 0x95, 0x01, 0x09, 0x39, 0x81, 0x42, 0x81, 0x03,
	0x05, 0x09, 0x19, 0x01, 0x29, 0x10, 0x25, 0x01, 0x75, 0x01, 0x95, 0x10, 0x81, 0x02, 0xc0,
}

var stickBits = []int{25, 28, 30, 35, 38} // of its panels

var rigs = []rig{
	{name: "ten-buttons", layout: pad.Double, devices: []record.ReportDevice{device(1, "", "ten buttons", tenButtons)}, period: []pad.Time{8000},
		encode: tenBits},
	{name: "changes-only", layout: pad.Double, devices: []record.ReportDevice{device(2, "C2", "speaks of changes only", tenButtons)}, period: []pad.Time{0},
		encode: tenBits},
	{name: "two-ids", layout: pad.Double, devices: []record.ReportDevice{device(3, "", "two pads, one device", twoIDs)}, period: []pad.Time{8000},
		encode: func(_, _ int, level func(int) float64, _ func(int) int) [][]byte {
			r := [][]byte{{1, 0}, {2, 0}}
			for p := range 10 {
				setBit(r[p/5], 8+p%5, level(p) > 0)
			}
			return r
		}},
	{name: "joystick", layout: pad.Single, devices: []record.ReportDevice{device(4, "", "stick", stick)}, period: []pad.Time{4000},
		encode: func(_, _ int, level func(int) float64, noise func(int) int) [][]byte {
			r := []byte{byte(127 + noise(3)), byte(126 + noise(4)), 0x08, 0, 0}
			for p, bit := range stickBits {
				setBit(r, bit, level(p) > 0)
			}
			return [][]byte{r}
		}},
	{name: "analogue-bytes", layout: pad.Single, devices: []record.ReportDevice{device(5, "", "load cells", nil)}, period: []pad.Time{4000}, ramp: 12_000,
		encode: func(_, _ int, level func(int) float64, noise func(int) int) [][]byte {
			r := make([]byte, 6)
			r[0] = 0x3c
			for p := range 5 {
				r[p+1] = byte(12 + 3*p + int(level(p)*float64(150+10*p)) + noise(7))
			}
			return [][]byte{r}
		}},
	{name: "analogue-words", layout: pad.Single, devices: []record.ReportDevice{device(6, "", "twelve bits, falling", nil)}, period: []pad.Time{4000}, ramp: 12_000,
		encode: func(_, _ int, level func(int) float64, noise func(int) int) [][]byte {
			r := make([]byte, 10)
			for p := range 5 {
				v := 3080 + 37*p - int(level(p)*float64(1900+100*p)) + noise(25)
				r[2*p], r[2*p+1] = byte(v), byte(v>>8)
			}
			return [][]byte{r}
		}},
	{name: "active-low", layout: pad.Single, devices: []record.ReportDevice{device(7, "", "", nil)}, period: []pad.Time{8000},
		encode: func(_, _ int, level func(int) float64, _ func(int) int) [][]byte {
			r := []byte{0xff, 0xff}
			for p := range 5 {
				if level(p) > 0 {
					r[p%2] &^= 1 << (6 - p)
				}
			}
			return [][]byte{r}
		}},
	{name: "counter-1000hz", layout: pad.Single, devices: []record.ReportDevice{device(8, "", "counts its reports", nil)}, period: []pad.Time{1000},
		encode: func(_, tick int, level func(int) float64, noise func(int) int) [][]byte {
			r := []byte{byte(tick), 0, byte(noise(4)) << 2}
			for p := range 5 {
				setBit(r, 11+p, level(p) > 0)
			}
			return [][]byte{r}
		}},
	{name: "two-devices", layout: pad.Double, devices: []record.ReportDevice{device(9, "L", "left", nil), device(9, "R", "right", nil)},
		period: []pad.Time{8000, 5000}, delay: []pad.Time{1000, 9000},
		encode: func(device, _ int, level func(int) float64, _ func(int) int) [][]byte {
			r := []byte{0x80, 0}
			for p := range 5 {
				setBit(r, 8+p, level(5*device+p) > 0)
			}
			return [][]byte{r}
		}},
}

func tenBits(_, _ int, level func(int) float64, _ func(int) int) [][]byte {
	r := []byte{0, 0}
	for p := range 10 {
		setBit(r, p, level(p) > 0)
	}
	return [][]byte{r}
}

// perform encodes presses as the rig would report them, from 0 to end, calling
// each for each report in order of time.
func (g *rig) perform(presses []knownPress, begin, end pad.Time, seed uint64, each func(t pad.Time, device int, report []byte)) {
	rng := rand.New(rand.NewPCG(seed, 1))
	noise := func(n int) int { return int(rng.Uint64() % uint64(n)) }
	type moment struct {
		t            pad.Time
		device, tick int
	}
	var moments []moment
	for d := range g.devices {
		period := g.period[d]
		if period == 0 {
			period = 1000
		}
		for k := int((begin + period - 1) / period); pad.Time(k)*period < end; k++ {
			moments = append(moments, moment{pad.Time(k) * period, d, k})
		}
	}
	slices.SortStableFunc(moments, func(a, b moment) int { return int(a.t - b.t) })
	last := make([][]byte, len(g.devices))
	for d := range last { // at rest
		last[d] = g.encode(d, 0, func(int) float64 { return 0 }, noise)[0]
	}
	for _, m := range moments {
		level := func(panel int) float64 {
			v := 0.0
			for _, k := range presses {
				down, up := k.down*pad.Millisecond, k.up*pad.Millisecond
				if p, _ := g.layout.Lookup(k.panel); int(p) != panel || m.t < down {
					continue
				}
				switch {
				case m.t < up && g.ramp > 0:
					v = max(v, min(1, float64(m.t-down)/float64(g.ramp)))
				case m.t < up:
					v = 1
				case m.t < up+g.ramp:
					v = max(v, 1-float64(m.t-up)/float64(g.ramp))
				}
			}
			return v
		}
		for _, r := range g.encode(m.device, m.tick, level, noise) {
			if g.period[m.device] == 0 {
				if bytes.Equal(r, last[m.device]) {
					continue
				}
				last[m.device] = r
			}
			each(m.t, m.device, r)
		}
	}
}

func (g *rig) header() record.ReportHeader {
	return record.ReportHeader{Layout: g.layout.Name, Devices: g.devices}
}

// teaching makes the teaching part: rest, then each panel three times.
func (g *rig) teaching(t testing.TB) []byte {
	var out bytes.Buffer
	w, err := record.NewReportWriter(&out, g.header())
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	check(err)
	phase := func(name string, begin, end pad.Time, presses []knownPress) {
		check(w.Phase(begin*pad.Millisecond, name))
		g.perform(presses, begin*pad.Millisecond, end*pad.Millisecond, uint64(begin), func(t pad.Time, d int, r []byte) {
			check(w.Report(t, d, r))
		})
	}
	now := pad.Time(600)
	phase(record.PhaseRest, 0, now, nil)
	for _, p := range g.layout.Panels {
		var presses []knownPress
		for k := range pad.Time(3) {
			presses = append(presses, knownPress{p.ID, now + 100 + 170*k, now + 180 + 170*k})
		}
		phase(p.ID, now, now+650, presses)
		now += 650
	}
	check(w.Phase(now*pad.Millisecond, record.PhaseEnd))
	check(w.Flush())
	return out.Bytes()
}

func (g *rig) presses() []knownPress {
	if g.layout == pad.Double {
		return doublePresses
	}
	return singlePresses
}

// playing makes the playing part.
func (g *rig) playing(t testing.TB) []byte {
	var out bytes.Buffer
	w, err := record.NewReportWriter(&out, g.header())
	if err != nil {
		t.Fatal(err)
	}
	g.perform(g.presses(), 0, 2*pad.Second, 99, func(at pad.Time, d int, r []byte) {
		if err := w.Report(at, d, r); err != nil {
			t.Fatal(err)
		}
	})
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// want gives the edges that the table of presses asks for: each at the first
// report after it, less the device's delay.
func (g *rig) want() []pad.Edge {
	var out []pad.Edge
	for _, k := range g.presses() {
		p, ok := g.layout.Lookup(k.panel)
		if !ok {
			panic(k.panel)
		}
		d := 0
		if len(g.devices) > 1 {
			d = int(p) / 5
		}
		at := func(ms pad.Time) pad.Time {
			t := ms * pad.Millisecond
			if period := g.period[d]; period > 0 {
				t = (t + period - 1) / period * period
			}
			if g.delay != nil {
				t -= g.delay[d]
			}
			return t
		}
		out = append(out, pad.Edge{T: at(k.down), Panel: p, Kind: pad.Down}, pad.Edge{T: at(k.up), Panel: p, Kind: pad.Up})
	}
	sortEdges(out)
	return out
}

func sortEdges(e []pad.Edge) {
	slices.SortFunc(e, func(a, b pad.Edge) int {
		switch {
		case a.T != b.T:
			return int(a.T - b.T)
		case a.Kind != b.Kind:
			return int(a.Kind) - int(b.Kind)
		}
		return int(a.Panel) - int(b.Panel)
	})
}

// The recordings that are shipped are those that the tables above make.
func TestShippedReports(t *testing.T) {
	want := map[string]bool{}
	for i := range rigs {
		g := &rigs[i]
		for name, text := range map[string][]byte{g.name + "-teach.jsonl": g.teaching(t), g.name + "-play.jsonl": g.playing(t)} {
			want[name] = true
			file := filepath.Join(reportsDir, name)
			if *updateReports {
				if err := os.MkdirAll(reportsDir, 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, text, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			got, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, text) {
				t.Errorf("%s differs from what its table makes; go test -update-reports writes it anew", name)
			}
		}
	}
	files, err := filepath.Glob(filepath.Join(reportsDir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !want[filepath.Base(f)] {
			t.Errorf("%s is made by no table", f)
		}
	}
}

// withoutDescriptor gives a recording without its devices' descriptors.
func withoutDescriptor(text []byte) []byte {
	header, rest, _ := bytes.Cut(text, []byte("\n"))
	h := string(header)
	for {
		i := strings.Index(h, `,"descriptor":"`)
		if i < 0 {
			return append([]byte(h+"\n"), rest...)
		}
		n := strings.IndexByte(h[i+len(`,"descriptor":"`):], '"')
		h = h[:i] + h[i+len(`,"descriptor":"`)+n+1:]
	}
}

// Whoever follows the prompts with a pad of any of these kinds gets a map by
// which the known presses come out again.
func TestTeachThenPlay(t *testing.T) {
	for i := range rigs {
		g := &rigs[i]
		for _, described := range []bool{true, false} {
			name := g.name
			teach, err := os.ReadFile(filepath.Join(reportsDir, g.name+"-teach.jsonl"))
			if err != nil {
				t.Fatal(err)
			}
			if !described {
				if g.devices[0].Descriptor == nil {
					continue
				}
				name += ", descriptor unknown"
				teach = withoutDescriptor(teach)
			}
			t.Run(name, func(t *testing.T) {
				rr, err := record.NewReportReader(g.name, bytes.NewReader(teach))
				if err != nil {
					t.Fatal(err)
				}
				teacher := input.NewTeacher(g.layout, 3)
				if err := record.TeachReports(rr, teacher, g.layout); err != nil {
					t.Fatal(err)
				}
				devices := rr.Header.Pad()
				for d := range g.delay {
					devices[d].Delay = g.delay[d]
				}
				m, remarks, err := teacher.Map(devices)
				if err != nil {
					t.Fatal(err)
				}
				for _, s := range m.Sensors {
					t.Logf("%s: %s", g.layout.ID(s.Panel), s)
				}
				if len(remarks) > 0 {
					t.Logf("remarks: %q", remarks)
				}
				g.checkPlaying(t, m)
			})
		}
	}
}

func (g *rig) checkPlaying(t *testing.T, m *input.Map) {
	t.Helper()
	s, err := record.OpenReports(filepath.Join(reportsDir, g.name+"-play.jsonl"), m)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var got []pad.Edge
	for {
		e, err := s.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if n := len(got); n > 0 && e.T < got[n-1].T {
			t.Fatalf("time goes back, from %d to %d", got[n-1].T, e.T)
		}
		got = append(got, e)
	}
	if s.Held() != 0 || len(s.Warnings()) != 0 {
		t.Errorf("held %b, warnings %q", s.Held(), s.Warnings())
	}
	sortEdges(got)
	want := g.want()
	if g.ramp == 0 {
		if !slices.Equal(got, want) {
			t.Errorf("edges\n%v, want\n%v", got, want)
		}
		return
	}
	// A value passes its threshold somewhere on its way: each panel's edges are
	// those of the table, at most the ramp and a report later.
	for p := range g.layout.Panels {
		of := func(all []pad.Edge) (one []pad.Edge) {
			for _, e := range all {
				if int(e.Panel) == p {
					one = append(one, e)
				}
			}
			return one
		}
		a, b := of(got), of(want)
		if len(a) != len(b) {
			t.Errorf("panel %s: edges\n%v, want\n%v", g.layout.ID(pad.Panel(p)), a, b)
			continue
		}
		for i := range a {
			if late := a[i].T - b[i].T; a[i].Kind != b[i].Kind || late < 0 || late > g.ramp+g.period[0] {
				t.Errorf("panel %s: edge %v, want %v", g.layout.ID(pad.Panel(p)), a[i], b[i])
			}
		}
	}
}

// Reading and writing gives the same bytes.
func TestShippedReportsRoundTrip(t *testing.T) {
	for i := range rigs {
		for _, part := range []string{"teach", "play"} {
			name := fmt.Sprintf("%s-%s.jsonl", rigs[i].name, part)
			text, err := os.ReadFile(filepath.Join(reportsDir, name))
			if err != nil {
				t.Fatal(err)
			}
			got, warnings, err := rewrite(name, text)
			if err != nil || len(warnings) > 0 || !bytes.Equal(got, text) {
				t.Errorf("%s: written back it differs (%v, %q)", name, err, warnings)
			}
		}
	}
}

// rewrite reads a recording and writes it again.
func rewrite(name string, text []byte) (out []byte, warnings []string, err error) {
	rr, err := record.NewReportReader(name, bytes.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	var b bytes.Buffer
	w, err := record.NewReportWriter(&b, rr.Header)
	if err != nil {
		return nil, nil, err
	}
	for {
		l, err := rr.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		if l.Phase != "" {
			err = w.Phase(l.T, l.Phase)
		} else {
			err = w.Report(l.T, l.Device, l.Bytes)
		}
		if err != nil {
			return nil, nil, fmt.Errorf("what was read cannot be written: %w", err)
		}
	}
	err = w.Flush()
	return b.Bytes(), rr.Warnings, err
}
