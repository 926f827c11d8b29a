package metronome_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"heeltoe/cmd/internal/metronome"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/desk"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
)

// device takes 10 ms every 10 ms until it is told to fail.
type device struct {
	openErr error
	stop    chan struct{}
	mu      sync.Mutex
	queued  int
	volume  float64
	err     error
}

func (d *device) Open(r io.Reader, attach func(sound.Output)) error {
	if d.openErr != nil {
		return d.openErr
	}
	attach(d)
	go func() {
		buf := make([]byte, 480*sound.FrameBytes)
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			n, _ := r.Read(buf)
			d.mu.Lock()
			d.queued += n
			d.mu.Unlock()
			select {
			case <-d.stop:
				return
			case <-tick.C:
			}
			d.mu.Lock()
			d.queued = 0
			d.mu.Unlock()
		}
	}()
	return nil
}
func (d *device) BufferedSize() int   { d.mu.Lock(); defer d.mu.Unlock(); return d.queued }
func (d *device) SetVolume(v float64) { d.mu.Lock(); defer d.mu.Unlock(); d.volume = v }
func (d *device) Delay() pad.Time     { return 0 }
func (d *device) Err() error          { d.mu.Lock(); defer d.mu.Unlock(); return d.err }
func (d *device) Close() error        { close(d.stop); return nil }

// told collects what the player is told.
type told struct {
	mu    sync.Mutex
	lines []string
}

func (t *told) say(format string, args ...any) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.lines = append(t.lines, fmt.Sprintf(format, args...))
}

func (t *told) text() string { t.mu.Lock(); defer t.mu.Unlock(); return strings.Join(t.lines, "\n") }

func testDrill(t *testing.T) *drill.Drill {
	d, err := drill.New(drill.Spec{Name: "g", Layout: "single", BPM: 240, PerBeat: 4, Reps: 100, Steps: "nw . . ."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Without sound a run's beginning is told why, at once, and nothing waits.
func TestWithoutSound(t *testing.T) {
	m := metronome.New(&device{openErr: errors.New("there is no device")})
	defer m.Close()
	err := m.Ready(t.Context())
	var l *practice.Lacking
	if !errors.As(err, &l) || !strings.Contains(err.Error(), "there is no device") {
		t.Fatalf("ready gives %v", err)
	}
	if s := m.Status(); s != "silent: there is no device" {
		t.Errorf("the status is %q", s)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	var out told
	m.Watch(ctx, out.say)
	if got := out.text(); got != "the click is silent: there is no device; the run goes on by the same schedule" {
		t.Errorf("the player is told %q", got)
	}
}

// A device that fails in mid-run is told of once; Off is silence that was asked for.
func TestDeviceThatFails(t *testing.T) {
	dev := &device{stop: make(chan struct{})}
	m := metronome.New(dev)
	defer m.Close()
	if err := m.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	if s := m.Status(); s != "" {
		t.Errorf("the status is %q", s)
	}
	clock, _ := live.NewClock()
	how := practice.Click{Sound: "wood", LoudnessDB: -20, Subdivide: 2}
	s, err := metronome.Schedule(how, testDrill(t), 100*pad.Millisecond, 0)
	if err != nil {
		t.Fatal(err)
	}
	m.Play(s, how, clock)
	ctx, cancel := context.WithCancel(t.Context())
	var out told
	var watching sync.WaitGroup
	watching.Go(func() { m.Watch(ctx, out.say) })
	for range 300 {
		if dev.mu.Lock(); dev.volume > 0.09 && dev.volume < 0.11 {
			dev.mu.Unlock()
			break
		}
		dev.mu.Unlock()
		time.Sleep(10 * time.Millisecond)
	}
	dev.mu.Lock()
	if dev.volume < 0.09 || dev.volume > 0.11 {
		t.Errorf("at -20 dB the volume is %v", dev.volume)
	}
	dev.err = errors.New("it was unplugged")
	dev.mu.Unlock()
	for range 300 {
		if strings.Contains(out.text(), "it was unplugged") {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	time.Sleep(500 * time.Millisecond)
	cancel()
	watching.Wait()
	if n := strings.Count(out.text(), "the sound device failed: it was unplugged"); n != 1 {
		t.Errorf("told %d times: %q", n, out.text())
	}
	m.Play(s, practice.Click{Sound: practice.Off, Subdivide: 1}, clock)
	m.Stop()
}

func TestWrongChoice(t *testing.T) {
	for want, how := range map[string]practice.Click{
		"--loudness-db: 1 is not from -60 to 0":   {LoudnessDB: 1, Subdivide: 1},
		"--loudness-db: -61 is not from -60 to 0": {LoudnessDB: -61, Subdivide: 1},
		"--subdivide: 0 is not 1 or more":         {},
		"do not fit a beat of 4 slots":            {Subdivide: 3},
		"cannot be silent after -1":               {Subdivide: 1, SilentAfter: -1},
	} {
		_, err := metronome.Schedule(how, testDrill(t), 0, 0)
		var w *practice.Wrong
		if !errors.As(err, &w) || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: %v, want %q", how, err, want)
		}
	}
	s, err := metronome.Schedule(practice.Click{Subdivide: 1, SilentAfter: 3}, testDrill(t), 0, 2)
	if err != nil {
		t.Fatal(err)
	}
	for k, want := range map[int64]string{3: "beat", 4: "accent", 5: "silent"} { // 2 reps were played before
		if _, level := s.At(k); level.String() != want {
			t.Errorf("click %d is %v, want %s", k, level, want)
		}
	}
}

// The window's desk takes a metronome.
var _ desk.Clicker = (*metronome.Metronome)(nil)
