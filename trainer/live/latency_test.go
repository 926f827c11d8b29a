package live_test

import (
	"bufio"
	"context"
	"encoding/json"
	"os"
	"runtime"
	"slices"
	"testing"
	"time"

	"go.uber.org/goleak"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
)

// role names the variable that makes this binary a program that a measurement
// runs beside the run, of those in roles.
const role = "HEELTOE_TEST_ROLE"

var roles = map[string]func(){}

func TestMain(m *testing.M) {
	if do := roles[os.Getenv(role)]; do != nil {
		do()
		return
	}
	goleak.VerifyTestMain(m)
}

// device reports 1000 times a second as a pad of ten buttons does, a panel
// changing in each report, and is read and decoded as a pad is.
type device struct {
	n     int
	dec   *input.Decoder
	edges []pad.Edge // as they were sent
}

func newDevice(t testing.TB, n int) *device {
	m := &input.Map{Layout: pad.Double, Devices: []input.Device{{Name: "ticking"}}}
	for p := range pad.Double.Panels {
		m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(p), Offset: p / 8, Mask: 1 << (p % 8)})
	}
	dec, err := input.NewDecoder(m)
	if err != nil {
		t.Fatal(err)
	}
	return &device{n: n, dec: dec, edges: make([]pad.Edge, 0, n)}
}

func (d *device) Describe() string { return "ticking" }

func (d *device) Run(ctx context.Context, clock input.Clock, q *input.Queue) error {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	var report [2]byte
	buf := make([]pad.Edge, 0, 16)
	next := clock.Now() + pad.Millisecond
	d.dec.Decode(buf, next, 0, report[:]) // the state at the start
	for i := range d.n {
		if clock.Until(ctx, next) != nil {
			return nil
		}
		// Panels go down in turn and up five reports later.
		down, up := i%10, (i+5)%10
		if i%2 == 0 {
			report[down/8] ^= 1 << (down % 8)
		} else {
			report[up/8] ^= 1 << (up % 8)
		}
		buf = d.dec.Decode(buf[:0], clock.Now(), 0, report[:])
		for _, e := range buf {
			d.edges = append(d.edges, e)
			q.Put(e)
		}
		next += pad.Millisecond
	}
	return nil
}

// tapDrill is a drill that lasts about as long as n reports.
func tapDrill(t testing.TB, n int) *drill.Drill {
	d, err := drill.New(drill.Spec{Name: "taps", Layout: "double", BPM: 300, PerBeat: 4, Reps: int64(max(1, n/500)),
		Steps: "1nw 1sw 1c 1ne 1se 2nw 2sw 2c 2ne 2se"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// latencies plays n reports at 1000 a second and gives, sorted, how long each
// press took from its stamp after the read until it was judged.
func latencies(t testing.TB, n int) []pad.Time {
	clock, _ := live.NewClock()
	dev := newDevice(t, n)
	lat := make([]pad.Time, 0, n)
	got := make([]pad.Edge, 0, n)
	c := &live.Config{Drill: tapDrill(t, n), Clock: clock, Options: judge.Options{Lead: 100 * pad.Millisecond},
		Sources: []input.Source{dev},
		Fed: func(e pad.Edge) {
			if e.Kind == pad.Down {
				lat = append(lat, clock.Now()-e.T)
				got = append(got, e)
			}
		}}
	res := live.Play(t.Context(), c)
	if res.Ending != live.Played {
		t.Fatalf("the run ended as %v", res.Ending)
	}
	var want []pad.Edge
	for _, e := range dev.edges {
		if e.Kind == pad.Down {
			want = append(want, e)
		}
	}
	if len(dev.edges) != n {
		t.Fatalf("%d edges were sent, want %d", len(dev.edges), n)
	}
	if !slices.Equal(got, want) {
		t.Fatalf("%d presses were judged of %d, or in another order", len(got), len(want))
	}
	slices.Sort(lat)
	return lat
}

// No report is lost and none overtakes another.
func TestThousandReportsASecond(t *testing.T) {
	lat := latencies(t, 3000)
	t.Logf("read to verdict: median %d µs, p99 %d µs, worst %d µs", lat[len(lat)/2], lat[len(lat)*99/100], lat[len(lat)-1])
}

// 60,000 reports at 1000 a second: none lost, order kept, and on an idle
// machine p99 from read to verdict at most 200 µs.
func TestMeasureReadToVerdict(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	lat := latencies(t, 60_000)
	p99 := lat[len(lat)*99/100]
	t.Logf("60,000 reports, none lost, order kept; read to verdict: median %d µs, p99 %d µs, worst %d µs", lat[len(lat)/2], p99, lat[len(lat)-1])
	if p99 > 200 {
		t.Errorf("p99 is %d µs, must be at most 200 µs on an idle machine", p99)
	}
}

// Eight simulated hours at 20 presses a second: memory stays flat and far
// below 64 MB, and the log is as large as its lines come to.
func TestMeasureEightHours(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	first, last := soak(t, 8*pad.Hour)
	t.Logf("heap after the first half hour %.1f MB, at the end %.1f MB", first, last)
	if last > 64 {
		t.Errorf("heap is %.1f MB, must be at most 64", last)
	}
	if last > first*1.05+0.5 {
		t.Errorf("heap grew from %.1f MB to %.1f MB", first, last)
	}
}

// Twenty simulated minutes, so that make test sees growth too.
func TestHeapStaysFlat(t *testing.T) {
	first, last := soak(t, 20*pad.Minute)
	if last > 64 || last > first*1.05+0.5 {
		t.Errorf("heap grew from %.1f MB to %.1f MB", first, last)
	}
}

// soak replays a run of that length and gives the live heap, in MB, after the
// first sixteenth of it and at its end.
func soak(t *testing.T, length pad.Time) (first, last float64) {
	d, err := drill.New(drill.Spec{Name: "soak", Layout: "double", BPM: 300, PerBeat: 4,
		Reps: int64(length / (500 * pad.Millisecond)), Steps: "1nw 1sw 1c 1ne 1se 2nw 2sw 2c 2ne 2se"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	path := t.TempDir() + "/soak.jsonl"
	log, err := live.Create(path, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	s := &steady{d: d, grid: d.Grid(pad.Second), at: func(k int) {
		switch k {
		case d.Total() / 16:
			first = heapMB()
		case d.Total() - 1:
			last = heapMB()
		}
	}}
	reps := 0
	res, err := live.Replay(t.Context(), &live.Config{Drill: d, Options: judge.Options{Lead: pad.Second}, Log: log,
		Events: func(e live.Event) {
			if _, ok := e.(live.RepDone); ok {
				reps++
			}
		}}, s)
	if err != nil {
		t.Fatal(err)
	}
	if err := log.Close(res.Begun); err != nil {
		t.Fatal(err)
	}
	logSize(t, path, d)
	if int64(reps) != d.Reps || res.Run.Presses() != int64(d.Total()) {
		t.Fatalf("%d reps were told of and %d presses judged, want %d and %d", reps, res.Run.Presses(), d.Reps, d.Total())
	}
	return first, last
}

// logSize compares the size of a steady run's log with what its edges come to, as
// the standard library writes them, a line each after the header.
func logSize(t *testing.T, path string, d *drill.Drill) {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	header, err := bufio.NewReader(f).ReadBytes('\n')
	if err != nil {
		t.Fatal(err)
	}
	want := int64(len(header))
	for s := (&steady{d: d, grid: d.Grid(pad.Second)}); ; {
		e, err := s.Next()
		if err != nil {
			break
		}
		line, err := json.Marshal(struct {
			T     pad.Time `json:"t"`
			Panel string   `json:"panel"`
			Down  bool     `json:"down"`
		}{e.T, d.Layout.ID(e.Panel), e.Kind == pad.Down})
		if err != nil {
			t.Fatal(err)
		}
		want += int64(len(line)) + 1
	}
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("log of %d presses: %.2f MB", d.Total(), float64(info.Size())/(1<<20))
	if info.Size() != want {
		t.Errorf("the log has %d bytes, its lines come to %d", info.Size(), want)
	}
}

func heapMB() float64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc) / (1 << 20)
}

// 0 allocations from report to verdict in steady state: what is counted is the
// whole process while reports go through reader, decoder, queue, judge and log.
func TestSteadyStateDoesNotAllocate(t *testing.T) {
	d := tapDrill(t, 500_000)
	dev := newDevice(t, 0)
	log, err := live.Create(t.TempDir()+"/run.jsonl", logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close(d.Reps)
	q := input.NewQueue(64)
	run := live.NewEngine(&live.Config{Drill: d, Log: log, Options: judge.Options{Lead: pad.Second}})
	var report [2]byte
	buf := make([]pad.Edge, 0, 16)
	now, i, fed := pad.Second, 0, 0
	step := func() {
		for range 1000 {
			down, up := i%10, (i+5)%10
			if i%2 == 0 {
				report[down/8] ^= 1 << (down % 8)
			} else {
				report[up/8] ^= 1 << (up % 8)
			}
			i++
			now += 50 * pad.Millisecond
			buf = dev.dec.Decode(buf[:0], now, 0, report[:])
			for _, e := range buf {
				q.Put(e)
			}
			for e, ok := q.Get(); ok; e, ok = q.Get() {
				run.Feed(e)
				fed++
			}
			run.Advance(now - live.Slack)
		}
	}
	step()
	time.Sleep(3 * live.FlushEvery) // both of the log's buffers have grown
	step()
	time.Sleep(3 * live.FlushEvery)
	allocs := testing.AllocsPerRun(20, step)
	// Strays are kept, and their list doubles now and then.
	if allocs > 1 {
		t.Errorf("%v allocations for 1000 reports", allocs)
	}
	if fed < 20_000 {
		t.Errorf("only %d edges went through", fed)
	}
}
