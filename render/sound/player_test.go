package sound_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"heeltoe/footing/pad"
	"heeltoe/render/sound"
	"heeltoe/trainer/click"
)

// paced is a device in real time: it takes 10 ms every 10 ms while it is alive.
type paced struct {
	openErr error
	mu      sync.Mutex
	queued  int
	volume  float64
	heard   int64 // frames that were not silent
	halted  bool
	err     error
	closed  chan struct{}
}

func newPaced() *paced { return &paced{closed: make(chan struct{})} }

func (d *paced) Open(r io.Reader, attach func(sound.Output)) error {
	if d.openErr != nil {
		return d.openErr
	}
	attach(d)
	go func() {
		buf := make([]byte, 1<<15)
		var data []byte
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			for len(data) < 4800*sound.FrameBytes {
				n, _ := r.Read(buf)
				data = append(data, buf[:n]...)
				d.mu.Lock()
				d.queued = len(data)
				d.mu.Unlock()
			}
			select {
			case <-d.closed:
				return
			case <-tick.C:
			}
			d.mu.Lock()
			if !d.halted {
				if d.volume > 0 {
					for _, b := range data[:480*sound.FrameBytes] {
						if b != 0 {
							d.heard++
						}
					}
				}
				data = data[480*sound.FrameBytes:]
				d.queued = len(data)
			}
			d.mu.Unlock()
		}
	}()
	return nil
}

func (d *paced) BufferedSize() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.queued
}
func (d *paced) SetVolume(v float64) { d.mu.Lock(); defer d.mu.Unlock(); d.volume = v }
func (d *paced) Delay() pad.Time     { return 0 }
func (d *paced) Err() error          { d.mu.Lock(); defer d.mu.Unlock(); return d.err }
func (d *paced) Close() error        { close(d.closed); return nil }

func (d *paced) set(halted bool, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.halted, d.err = halted, err
}

// until waits for a state for up to 5 s.
func until(t *testing.T, p *sound.Player, want sound.State, reason string) sound.Status {
	t.Helper()
	for range 500 {
		if s := p.Status(); s.State == want && strings.Contains(s.Reason, reason) {
			return s
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("the player is %+v, not %v with %q", p.Status(), want, reason)
	return sound.Status{}
}

// A device that stops in mid-run makes the player silent with a reason, within a
// second; it is heard again when it goes on; an error is final. The run's clicks
// never wait for it.
func TestDeviceThatDies(t *testing.T) {
	defer goleak.VerifyNone(t)
	d := newPaced()
	p := sound.Open(d, nil)
	defer p.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if s := p.Ready(ctx); s.State != sound.Sounding || s.Reason != "" {
		t.Fatalf("the player is %+v", s)
	}
	start := time.Now()
	p.SetLoudness(-6)
	p.Start(schedule(t, 1000, 200*pad.Millisecond, pad.Minute, click.Options{}), func() pad.Time { return pad.FromDuration(time.Since(start)) })
	for range 500 {
		if p.Status().Clicks > 5 {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	if s := p.Status(); s.Clicks <= 5 {
		t.Fatalf("no clicks: %+v", s)
	}
	d.set(true, nil)
	halted := time.Now()
	until(t, p, sound.Silent, "takes no more sound")
	if took := time.Since(halted); took > time.Second+500*time.Millisecond {
		t.Errorf("that was seen after %v", took)
	}
	calls := time.Now()
	p.Stop()
	p.Start(schedule(t, 1000, 0, pad.Minute, click.Options{}), func() pad.Time { return pad.FromDuration(time.Since(start)) })
	p.SetLoudness(0)
	p.Mute(true)
	p.Mute(false)
	if err := p.SetSound("tone"); err != nil {
		t.Error(err)
	}
	if err := p.SetSound("none such"); err == nil || !strings.Contains(err.Error(), "tick") {
		t.Errorf("an unknown sound gives %v", err)
	}
	if took := time.Since(calls); took > 200*time.Millisecond { // making a sound takes a few ms
		t.Errorf("with a device that hangs the calls took %v", took)
	}
	before := p.Status().Clicks
	d.set(false, nil)
	until(t, p, sound.Sounding, "")
	for range 500 {
		if p.Status().Clicks > before+5 {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	if s := p.Status(); s.Clicks <= before+5 {
		t.Errorf("after it went on there are no clicks: %+v", s)
	}
	d.mu.Lock()
	heard := d.heard
	d.mu.Unlock()
	if heard == 0 {
		t.Error("nothing was heard")
	}
	d.set(false, errors.New("oto: ALSA error at snd_pcm_writei: No such device"))
	until(t, p, sound.Silent, "the sound device failed: ALSA error at snd_pcm_writei: No such device")
}

func TestNoDevice(t *testing.T) {
	defer goleak.VerifyNone(t)
	d := newPaced()
	d.openErr = errors.New("no sound device could be opened: there is none")
	p := sound.Open(d, nil)
	defer p.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if s := p.Ready(ctx); s.State != sound.Silent || s.Reason != d.openErr.Error() {
		t.Errorf("the player is %+v", s)
	}
	p.Start(schedule(t, 100, 0, pad.Second, click.Options{}), func() pad.Time { return 0 })
	p.SetLoudness(-20)
	p.Stop()
	if s := p.Status(); s.State != sound.Silent || s.Clicks != 0 {
		t.Errorf("the player is %+v", s)
	}
}

// A player that is played nothing gives silence.
func TestNothingToPlay(t *testing.T) {
	defer goleak.VerifyNone(t)
	d := newPaced()
	p := sound.Open(d, nil)
	defer p.Close()
	until(t, p, sound.Sounding, "")
	time.Sleep(300 * time.Millisecond)
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.heard != 0 || p.Status().Reads < 20 {
		t.Errorf("%d bytes were not silent, %d reads", d.heard, p.Status().Reads)
	}
}
