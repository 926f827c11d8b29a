package usb

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/karalabe/hid"
	"go.uber.org/goleak"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// wall is the machine's monotonic clock.
type wall struct{ start time.Time }

func (w wall) Now() pad.Time { return pad.FromDuration(time.Since(w.start)) }
func (w wall) Until(ctx context.Context, t pad.Time) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After((t - w.Now()).Duration()):
		return nil
	}
}

// fakePort is a device that gives what it is told to. It finds out a call
// after Close, a second Close, and calls from two goroutines at once.
type fakePort struct {
	t       *testing.T
	reports chan []byte         // closed: unplugged
	given   func(report []byte) // called as a report is given; may be nil
	busy    atomic.Bool
	closed  atomic.Int32
}

var errGone = errors.New("the device is gone")

func newPort(t *testing.T) *fakePort { return &fakePort{t: t, reports: make(chan []byte, 256)} }

func (f *fakePort) enter() {
	if f.busy.Swap(true) {
		f.t.Error("two calls at once")
	}
	if f.closed.Load() > 0 {
		f.t.Error("a call after Close")
	}
}

func (f *fakePort) ReadTimeout(b []byte, ms int) (int, error) {
	f.enter()
	defer f.busy.Store(false)
	if len(b) < 64 || ms <= 0 || ms > 50 {
		f.t.Errorf("a read of %d bytes in %d ms", len(b), ms)
	}
	select {
	case r, ok := <-f.reports:
		if !ok {
			return 0, errGone
		}
		if f.given != nil {
			f.given(r)
		}
		return copy(b, r), nil
	case <-time.After(time.Duration(ms) * time.Millisecond):
		return 0, nil
	}
}

func (f *fakePort) Close() error {
	f.enter()
	f.busy.Store(false)
	f.closed.Add(1)
	return nil
}

var idA, idB = input.Identity{Vendor: 0x1209, Product: 1, Serial: "A"}, input.Identity{Vendor: 0x1209, Product: 1, Serial: "B"}

// slots are the ports that an opener gives for an identity, in turn.
type slots struct {
	mu    sync.Mutex
	ports map[input.Identity][]*fakePort
	tries int
}

func (s *slots) open(id input.Identity) (port, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tries++
	if len(s.ports[id]) == 0 {
		return nil, &Lacking{"not there"}
	}
	p := s.ports[id][0]
	s.ports[id] = s.ports[id][1:]
	return p, nil
}

func (s *slots) plug(id input.Identity, p *fakePort) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.ports[id] = append(s.ports[id], p)
}

func oneByte(devices ...input.Device) *input.Map {
	m := &input.Map{Layout: pad.Double, Devices: devices}
	for d := range devices {
		for p := range 5 {
			m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(5*d + p), Device: uint8(d), Mask: 1 << p})
		}
	}
	return m
}

// running is a source that runs, and what it put into its queue.
type running struct {
	t      *testing.T
	source *Source
	queue  *input.Queue
	stop   context.CancelFunc
	done   chan error
	clock  wall
}

func start(t *testing.T, m *input.Map, s *slots, held func(pad.PanelSet)) *running {
	t.Helper()
	src, err := newSource("test pad", m, s.open)
	if err != nil {
		t.Fatal(err)
	}
	src.Held = held
	ctx, stop := context.WithCancel(context.Background())
	r := &running{t: t, source: src, queue: input.NewQueue(1024), stop: stop, done: make(chan error, 1), clock: wall{time.Now()}}
	go func() { r.done <- src.Run(ctx, r.clock, r.queue) }()
	t.Cleanup(stop)
	return r
}

// edges waits for n edges. Gaps that say that this machine was too busy to read
// in time are left out.
func (r *running) edges(n int) []pad.Edge {
	r.t.Helper()
	var out []pad.Edge
	late := time.After(10 * time.Second)
	for {
		for e, ok := r.queue.Get(); ok; e, ok = r.queue.Get() {
			if e.Lost == 0 {
				out = append(out, e)
			}
		}
		if len(out) >= n {
			return out
		}
		select {
		case <-r.queue.Ready():
		case <-late:
			r.t.Fatalf("%d edges came, not %d: %v", len(out), n, out)
		}
	}
}

// end waits for Run to return.
func (r *running) end() error {
	r.t.Helper()
	select {
	case err := <-r.done:
		return err
	case <-time.After(10 * time.Second):
		r.t.Fatal("Run does not return")
		return nil
	}
}

func plain(edges []pad.Edge) []pad.Edge {
	out := slices.Clone(edges)
	for i := range out {
		out[i].T = 0
	}
	return out
}

func TestSourceReads(t *testing.T) {
	p := newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	p.reports <- []byte{0}
	r := start(t, oneByte(input.Device{Identity: idA}), s, nil)
	before := r.clock.Now()
	for _, b := range [][]byte{{1}, {}, {3}, {3}, {0}} { // an empty report is nothing
		p.reports <- b
	}
	got := r.edges(4)
	want := []pad.Edge{{Panel: 0, Kind: pad.Down}, {Panel: 1, Kind: pad.Down}, {Panel: 0, Kind: pad.Up}, {Panel: 1, Kind: pad.Up}}
	if !slices.Equal(plain(got), want) {
		t.Errorf("edges %v", got)
	}
	for i, e := range got {
		if e.T < before || e.T > r.clock.Now() || i > 0 && e.T < got[i-1].T {
			t.Errorf("edge %d is stamped %d", i, e.T)
		}
	}
	r.stop()
	if err := r.end(); err != nil {
		t.Errorf("stopped: %v", err)
	}
	if c, late := r.source.Counts(); c.Reports != 5 || c.Edges != 4 || late != 0 {
		t.Errorf("counts %+v, %d late", c, late)
	}
	if p.closed.Load() != 1 {
		t.Errorf("closed %d times", p.closed.Load())
	}
	if d := r.source.Describe(); !strings.Contains(d, "test pad") || !strings.Contains(d, "1209:0001:A") {
		t.Errorf("described as %q", d)
	}
}

// A burst comes out whole and in order.
func TestSourceTakesBursts(t *testing.T) {
	p := newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	p.reports <- []byte{0}
	for i := range 200 {
		p.reports <- []byte{byte(1 - i%2)}
	}
	r := start(t, oneByte(input.Device{Identity: idA}), s, nil)
	got := r.edges(200)
	for i, e := range got {
		if (e.Kind == pad.Down) != (i%2 == 0) || i > 0 && e.T < got[i-1].T {
			t.Fatalf("edge %d of the burst is %v", i, e)
		}
	}
	if n := r.queue.Dropped(); n != 0 || len(got) != 200 {
		t.Errorf("%d edges, %d dropped", len(got), n)
	}
	r.stop()
	r.end()
}

// jumping is a clock that stands still but where the test moves it.
type jumping struct{ now atomic.Int64 }

func (c *jumping) Now() pad.Time                               { return pad.Time(c.now.Load()) }
func (c *jumping) Until(ctx context.Context, t pad.Time) error { return ctx.Err() }

// A reader that was held up for 100 ms says how many reports may be missing:
// what a counter says or, without one, what the device can have sent.
func TestSourceMarksWhatMayBeMissing(t *testing.T) {
	const before = 300 // reports
	for name, c := range map[string]struct {
		report   func(n int, down bool) []byte
		interval pad.Time
		lost     uint32
	}{
		"a counter": {func(n int, down bool) []byte {
			if n >= before {
				n += 77
			}
			return []byte{b2(down), byte(n)}
		}, pad.Millisecond, 77},
		"none":         {func(_ int, down bool) []byte { return []byte{b2(down), 0} }, pad.Millisecond, 99},
		"none, slower": {func(_ int, down bool) []byte { return []byte{b2(down), 0} }, 8 * pad.Millisecond, 11},
	} {
		t.Run(name, func(t *testing.T) {
			var clock jumping
			p := newPort(t)
			p.reports = make(chan []byte, 2*before)
			p.given = func(r []byte) {
				if r[0] == 1 {
					clock.now.Store(100_000)
				}
			}
			for n := range before {
				p.reports <- c.report(n, false)
			}
			p.reports <- c.report(before, true)
			src, err := newSource("test pad", oneByte(input.Device{Identity: idA}), (&slots{ports: map[input.Identity][]*fakePort{idA: {p}}}).open)
			if err != nil {
				t.Fatal(err)
			}
			src.intervals[0] = c.interval
			ctx, stop := context.WithCancel(t.Context())
			q := input.NewQueue(64)
			done := make(chan error, 1)
			go func() { done <- src.Run(ctx, &clock, q) }()
			var got []pad.Edge
			for range 2 {
				e, ok := q.Get()
				for ; !ok; e, ok = q.Get() {
					<-q.Ready()
				}
				got = append(got, e)
			}
			stop()
			if err := <-done; err != nil {
				t.Error(err)
			}
			want := []pad.Edge{{T: 100_000, Kind: pad.Gap, Panel: pad.NoPanel, Lost: c.lost}, {T: 100_000, Kind: pad.Down}}
			if !slices.Equal(got, want) {
				t.Errorf("got %+v, want %+v", got, want)
			}
		})
	}
}

func b2(down bool) byte {
	if down {
		return 1
	}
	return 0
}

func TestSourceTellsWhatIsHeld(t *testing.T) {
	p := newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	p.reports <- []byte{2}
	held := make(chan pad.PanelSet, 1)
	r := start(t, oneByte(input.Device{Identity: idA}), s, func(h pad.PanelSet) { held <- h })
	if h := <-held; h != pad.SetOf(1) {
		t.Errorf("held %b", h)
	}
	p.reports <- []byte{0}
	if got := r.edges(1); got[0].Kind != pad.Up || got[0].Panel != 1 {
		t.Errorf("its release is %v", got)
	}
	r.stop()
	r.end()
}

// What was queued before an unplug comes first; then the device is looked for
// in vain and Run says so.
func TestSourceUnplugged(t *testing.T) {
	p := newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	p.reports <- []byte{0}
	p.reports <- []byte{1}
	close(p.reports)
	r := start(t, oneByte(input.Device{Identity: idA}), s, nil)
	err := r.end()
	if !errors.Is(err, ErrUnplugged) || !strings.Contains(err.Error(), "1209:0001:A") || !strings.Contains(err.Error(), errGone.Error()) {
		t.Errorf("Run gave %v", err)
	}
	if got := r.edges(1); got[0].Kind != pad.Down {
		t.Errorf("edges %v", got)
	}
	if p.closed.Load() != 1 || s.tries < 3 {
		t.Errorf("closed %d times, opened %d times", p.closed.Load(), s.tries)
	}
}

// A plug that was loose: the edges go on after a gap, in which a panel went
// down that is up again later.
func TestSourceReconnects(t *testing.T) {
	p, again := newPort(t), newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	p.reports <- []byte{0}
	p.reports <- []byte{1}
	held := make(chan pad.PanelSet, 1)
	r := start(t, oneByte(input.Device{Identity: idA}), s, func(h pad.PanelSet) { held <- h })
	r.edges(1)
	close(p.reports)
	again.reports <- []byte{4}
	s.plug(idA, again)
	if h := <-held; h != pad.SetOf(2) {
		t.Errorf("held %b after the gap", h)
	}
	again.reports <- []byte{0}
	got := plain(r.edges(2))
	want := []pad.Edge{{Kind: pad.Gap, Panel: pad.NoPanel}, {Kind: pad.Up, Panel: 2}}
	if !slices.Equal(got, want) {
		t.Errorf("edges %v, want %v", got, want)
	}
	r.stop()
	if err := r.end(); err != nil {
		t.Error(err)
	}
	if p.closed.Load() != 1 || again.closed.Load() != 1 {
		t.Errorf("closed %d and %d times", p.closed.Load(), again.closed.Load())
	}
}

// A device that comes back and fails at once, again and again, is given up.
func TestSourceGivesUpOnAFlickeringDevice(t *testing.T) {
	s := &slots{ports: map[input.Identity][]*fakePort{}}
	for range 500 {
		p := newPort(t)
		close(p.reports)
		s.plug(idA, p)
	}
	if err := start(t, oneByte(input.Device{Identity: idA}), s, nil).end(); !errors.Is(err, ErrUnplugged) {
		t.Errorf("Run gave %v", err)
	}
	if s.tries > 20 {
		t.Errorf("opened %d times", s.tries)
	}
}

// A plug that is pulled and put back a hundred times in one run, a press each
// time: a hundred gaps, every press, and every device that was opened is closed.
func TestSourceSurvivesAHundredUnplugs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const times = 100
		s := &slots{ports: map[input.Identity][]*fakePort{}}
		var ports []*fakePort
		for range times + 1 {
			p := newPort(t)
			p.reports <- []byte{0}
			p.reports <- []byte{1}
			p.reports <- []byte{0}
			ports = append(ports, p)
		}
		s.plug(idA, ports[0])
		r := start(t, oneByte(input.Device{Identity: idA}), s, nil)
		for i := range times {
			time.Sleep(time.Second)
			close(ports[i].reports)
			time.Sleep(500 * time.Millisecond)
			s.plug(idA, ports[i+1])
		}
		time.Sleep(time.Second)
		r.stop()
		if err := r.end(); err != nil {
			t.Error(err)
		}
		var kinds [3]int
		for e, ok := r.queue.Get(); ok; e, ok = r.queue.Get() {
			kinds[e.Kind]++
		}
		if kinds != [3]int{pad.Up: times + 1, pad.Down: times + 1, pad.Gap: times} {
			t.Errorf("ups, downs and gaps: %v", kinds)
		}
		for i, p := range ports {
			if p.closed.Load() != 1 {
				t.Errorf("device %d was closed %d times", i, p.closed.Load())
			}
		}
	})
}

func TestSourceStopsWhileItLooks(t *testing.T) {
	p := newPort(t)
	close(p.reports)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	r := start(t, oneByte(input.Device{Identity: idA}), s, nil)
	time.Sleep(50 * time.Millisecond)
	r.stop()
	if err := r.end(); err != nil {
		t.Errorf("stopped: %v", err)
	}
}

func TestSourceWithoutDevice(t *testing.T) {
	var l *Lacking
	if err := start(t, oneByte(input.Device{Identity: idA}), &slots{}, nil).end(); !errors.As(err, &l) {
		t.Errorf("Run gave %v", err)
	}
	// One of two is there: it is closed again.
	p := newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	if err := start(t, oneByte(input.Device{Identity: idA}, input.Device{Identity: idB}), s, nil).end(); !errors.As(err, &l) {
		t.Errorf("Run gave %v", err)
	}
	if p.closed.Load() != 1 {
		t.Errorf("the other was closed %d times", p.closed.Load())
	}
}

// Two devices whose delays differ by more than their reports lie apart: edges
// come out in the order of their corrected times, also where no report follows.
func TestTwoDevicesAreMerged(t *testing.T) {
	a, b := newPort(t), newPort(t)
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {a}, idB: {b}}}
	a.reports <- []byte{0}
	b.reports <- []byte{0}
	const delay = 60 * pad.Millisecond
	r := start(t, oneByte(input.Device{Identity: idA}, input.Device{Identity: idB, Delay: delay}), s, nil)
	for range 5 {
		a.reports <- []byte{1}
		b.reports <- []byte{1} // happened 60 ms ago: before a's
		time.Sleep(100 * time.Millisecond)
		a.reports <- []byte{0}
		b.reports <- []byte{0}
		time.Sleep(100 * time.Millisecond)
	}
	got := r.edges(20)
	for i := 1; i < len(got); i++ {
		if got[i].T < got[i-1].T {
			t.Errorf("time goes back at edge %d: %v", i, got)
		}
	}
	for i, e := range got {
		if want := []pad.Panel{5, 0}[i%2]; e.Panel != want {
			t.Errorf("edge %d is of panel %d, want %d", i, e.Panel, want)
		}
	}
	r.stop()
	r.end()
	if _, late := r.source.Counts(); late != 0 {
		t.Errorf("%d edges were late", late)
	}
	if a.closed.Load() != 1 || b.closed.Load() != 1 {
		t.Errorf("closed %d and %d times", a.closed.Load(), b.closed.Load())
	}
}

// Reader hands on the error of its caller and closes.
func TestReaderStopsWithItsCaller(t *testing.T) {
	p := newPort(t)
	p.reports <- []byte{7, 8}
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	full := errors.New("the disk is full")
	r := Reader{Devices: []input.Identity{idA}, open: s.open}
	err := r.Run(context.Background(), wall{time.Now()}, func(_ pad.Time, device int, report []byte) error {
		if device != 0 || !slices.Equal(report, []byte{7, 8}) {
			t.Errorf("report % x of device %d", report, device)
		}
		return full
	})
	if !errors.Is(err, full) || p.closed.Load() != 1 {
		t.Errorf("Run gave %v, closed %d times", err, p.closed.Load())
	}
	if err := (&Reader{}).Run(context.Background(), wall{time.Now()}, nil); err == nil {
		t.Error("no device was read")
	}
}

// What was thrown away before a device is read is collected before it is opened: nothing
// of it is left to be collected while reports come.
func TestReaderCollectsBeforeItReads(t *testing.T) {
	p := newPort(t)
	p.reports <- []byte{7, 8}
	s := &slots{ports: map[input.Identity][]*fakePort{idA: {p}}}
	collected := func() uint32 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.NumForcedGC // those of the collector's own making do not count
	}
	before, opened := collected(), uint32(0)
	r := Reader{Devices: []input.Identity{idA}, open: func(id input.Identity) (port, error) {
		opened = collected()
		return s.open(id)
	}}
	done := errors.New("that was all")
	err := r.Run(context.Background(), wall{time.Now()}, func(pad.Time, int, []byte) error { return done })
	if !errors.Is(err, done) || opened == before {
		t.Errorf("Run gave %v; %d collections before it, %d when it opened the device", err, before, opened)
	}
}

// fakeTree lays out what the kernel tells of one pad (sysfs-bus-usb in the
// kernel's ABI documentation; the HID device lies below its interface).
func fakeTree(t *testing.T, descriptor []byte) tree {
	t.Helper()
	root := t.TempDir()
	s := tree{sys: filepath.Join(root, "sys"), dev: filepath.Join(root, "dev")}
	for file, text := range map[string]string{
		"sys/1-2/manufacturer": "Works\n", "sys/1-2/product": "Floor pad\n", "sys/1-2/serial": "A\n",
		"sys/1-2/busnum": "1\n", "sys/1-2/devnum": "7\n",
		"sys/1-2:1.0/0003:1209:0001.0004/report_descriptor": string(descriptor),
		"sys/1-2:1.0/ep_81/interval":                        "8ms\n", "sys/1-2:1.0/ep_02/interval": "1ms\n",
		"dev/001/007": "",
	} {
		file = filepath.Join(root, file)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// Ten buttons: items of HID 1.11, section 6.2.2.
var tenButtons = []byte{
	0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x0a, 0x15, 0x00, 0x25,
	0x01, 0x75, 0x01, 0x95, 0x0a, 0x81, 0x02, 0x75, 0x06, 0x95, 0x01, 0x81, 0x03, 0xc0,
}

func TestDescribeFromTheSystem(t *testing.T) {
	blank := []hid.DeviceInfo{{Path: "1-2:1.0", VendorID: 0x1209, ProductID: 1}}
	s := fakeTree(t, tenButtons)
	d := describe(blank, s)[0]
	if d.Identity != idA || d.Name != "Floor pad" || d.Manufacturer != "Works" || d.Closed != nil || d.Interval != 8*pad.Millisecond {
		t.Errorf("got %+v", d)
	}
	if d.Descriptor == nil || len(d.Descriptor.Buttons()) != 10 || !slices.Equal(d.Raw, tenButtons) {
		t.Errorf("descriptor % x", d.Raw)
	}
	// Without its device file.
	if err := os.Remove(filepath.Join(s.dev, "001", "007")); err != nil {
		t.Fatal(err)
	}
	if d := describe(blank, s)[0]; d.Closed == nil || !strings.Contains(d.Closed.Error(), "001/007") {
		t.Errorf("without device file: %v", d.Closed)
	}
	// A malformed descriptor is done without.
	if d := describe(blank, fakeTree(t, []byte{0xc0}))[0]; d.Descriptor != nil || d.Name != "Floor pad" {
		t.Errorf("malformed descriptor: %+v", d)
	}
	// Other systems, and paths of another make, tell nothing.
	for _, path := range []string{"", "../1-2:1.0", "1-9:1.0", `\\?\hid#vid_1209`} {
		info := []hid.DeviceInfo{{Path: path, VendorID: 0x1209, ProductID: 1, Product: "own"}}
		if d := describe(info, s)[0]; d.Name != "own" || d.Descriptor != nil || d.Closed != nil {
			t.Errorf("path %q: %+v", path, d)
		}
	}
}

func TestNoPermission(t *testing.T) {
	d := &Device{Identity: idA}
	err := closedError(d, "/dev/bus/usb/001/007", &os.PathError{Op: "open", Path: "x", Err: os.ErrPermission})
	var l *Lacking
	if !errors.As(err, &l) {
		t.Fatalf("got %v", err)
	}
	for _, s := range []string{"/dev/bus/usb/001/007", RulesFile, "before 73", "udevadm control --reload", "plug",
		`SUBSYSTEM=="usb", ENV{DEVTYPE}=="usb_device", ATTR{idVendor}=="1209", ATTR{idProduct}=="0001", TAG+="uaccess"`} {
		if !strings.Contains(l.Msg, s) {
			t.Errorf("%q lacks %q", l.Msg, s)
		}
	}
	if name := filepath.Base(RulesFile); name >= "73" {
		t.Errorf("%s does not sort before 73", name)
	}
}

func TestFind(t *testing.T) {
	a, b := Device{Identity: idA, Path: "a"}, Device{Identity: idB, Path: "b"}
	blank := Device{Identity: input.Identity{Vendor: 0x1209, Product: 1}, Path: "blank"}
	other := Device{Identity: input.Identity{Vendor: 0x1209, Product: 1, Serial: "A", Interface: 1}, Path: "other"}
	for _, c := range []struct {
		name string
		list []Device
		id   input.Identity
		path string // "": an error
	}{
		{"by serial", []Device{b, a, other}, idA, "a"},
		{"by interface", []Device{a, other}, other.Identity, "other"},
		{"no serial wanted", []Device{b}, blank.Identity, "b"},
		{"no serial told", []Device{blank}, idA, "blank"},
		{"two fit", []Device{a, b}, blank.Identity, ""},
		{"another serial", []Device{b}, idA, ""},
		{"nothing", nil, idA, ""},
	} {
		d, err := Find(c.list, c.id)
		var l *Lacking
		if d.Path != c.path || (c.path == "") != errors.As(err, &l) {
			t.Errorf("%s: %+v, %v", c.name, d, err)
		}
	}
}

// What this machine has can be listed, and a pad that is not there is told of.
func TestThisMachine(t *testing.T) {
	if !Supported() {
		var l *Lacking
		if _, err := List(); !errors.As(err, &l) || !strings.Contains(l.Msg, "cgo") {
			t.Errorf("unsupported: %v", err)
		}
		return
	}
	if _, err := List(); err != nil {
		t.Error(err)
	}
	nowhere := input.Identity{Vendor: 0xffff, Product: 0xfffe, Serial: "none"}
	var l *Lacking
	if _, err := Open("none", oneByte(input.Device{Identity: nowhere})); !errors.As(err, &l) || !strings.Contains(l.Msg, "ffff:fffe:none") {
		t.Errorf("Open gave %v", err)
	}
}
