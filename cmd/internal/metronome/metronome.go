// Package metronome joins the click that a player chooses to the machine's sound
// device. Every program that plays uses it.
package metronome

import (
	"context"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/click"
	"heeltoe/trainer/practice"
)

// readyWait is how long a run's beginning waits for a sound device at most.
const readyWait = 2 * time.Second

// Metronome sounds the clicks of runs, one at a time. It is made once a program,
// since the device goes on being measured between runs. None of its methods but
// Ready waits for the device; where that is missing or fails, runs go on unheard.
type Metronome struct{ p *sound.Player }

// New opens a device, sound.Machine say, and returns at once.
func New(d sound.Device) *Metronome { return &Metronome{sound.Open(d, nil)} }

// Schedule gives the clicks of a run of d from lead on; before is the number of
// reps played in earlier parts. Its errors are *practice.Wrong.
func Schedule(how practice.Click, d *drill.Drill, lead pad.Time, before int64) (*click.Schedule, error) {
	switch {
	case !(how.LoudnessDB >= sound.QuietestDB && how.LoudnessDB <= 0):
		return nil, practice.Wrongf("--loudness-db: %v is not from %v to 0", how.LoudnessDB, sound.QuietestDB)
	case how.Subdivide < 1:
		return nil, practice.Wrongf("--subdivide: %d is not 1 or more", how.Subdivide)
	}
	s, err := click.New(d, lead, how.Options(before))
	if err != nil {
		return nil, practice.Wrongf("the click: %v", err)
	}
	return s, nil
}

// Play sounds s by the clock until Stop, as how says; where that is Off, nothing.
func (m *Metronome) Play(s *click.Schedule, how practice.Click, clock input.Clock) {
	if how.Sound == practice.Off || m.p.SetSound(how.Sound) != nil {
		m.p.Stop()
		return
	}
	m.p.SetLoudness(how.LoudnessDB)
	m.p.Start(s, clock.Now)
}

// Stop ends the clicks at once.
func (m *Metronome) Stop() { m.p.Stop() }

// Close lets the device go.
func (m *Metronome) Close() { m.p.Close() }

// Status says in a few words why nothing can be heard, or nothing where it can
// or is not yet known.
func (m *Metronome) Status() string {
	if s := m.p.Status(); s.State == sound.Silent {
		return "silent: " + s.Reason
	}
	return ""
}

// Jumps gives how often the device stood still or left something out.
func (m *Metronome) Jumps() int64 { return m.p.Status().Jumps }

// Ready waits until it is known whether the click can be heard, two seconds at
// most, and gives a *practice.Lacking where it cannot.
func (m *Metronome) Ready(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, readyWait)
	defer cancel()
	switch s := m.p.Ready(ctx); s.State {
	case sound.Sounding:
		return nil
	case sound.Silent:
		return practice.Lackf("the click cannot be heard: %s", s.Reason)
	}
	return practice.Lackf("the click cannot be heard: the sound device does not answer")
}

// Watch tells when the click falls silent and when it is heard again, until ctx ends.
func (m *Metronome) Watch(ctx context.Context, say practice.Say) {
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	told := ""
	for {
		switch now := m.Status(); {
		case now == told:
		case now == "":
			say("the click can be heard again")
			told = now
		default:
			say("the click is %s; the run goes on by the same schedule", now)
			told = now
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}
