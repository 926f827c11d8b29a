package sound

import (
	"encoding/binary"
	"math"
	"sync/atomic"

	"heeltoe/footing/pad"
	"heeltoe/trainer/click"
)

// The form of what a Stream gives: interleaved stereo, both sides alike, in
// 32-bit floats, little endian, from -1 to 1.
const (
	SampleRate = 48_000 // frames a second
	Channels   = 2
	FrameBytes = 4 * Channels

	chunk     = 480 // frames that one Read gives at most, so that little is made ahead
	maxVoices = 16
	// A click that could not be made in time is still begun within this, and
	// left out after.
	lateFrames = 3 * SampleRate / 1000
)

// Schedule is the clicks of a run, as click.Schedule gives them: due moments
// that do not fall, on the run's own clock. It must not be changed while it plays.
type Schedule interface {
	Len() int64
	At(k int64) (due pad.Time, level click.Level)
	From(t pad.Time) int64 // the first click due at t or after
}

// Output is a device that plays a Stream.
type Output interface {
	// BufferedSize gives the bytes that were read and that the device has not taken yet.
	BufferedSize() int
	// SetVolume sets the factor, 0 to 1, of what is taken from now on.
	SetVolume(v float64)
	// Delay is how long after it was taken a frame sounds, as far as is known.
	Delay() pad.Time
	// Err says why the device has stopped for good; nil while it has not.
	Err() error
	// Close ends the playing.
	Close() error
}

// Stream makes the sound frame by frame as a device asks for it. Where each
// click begins follows from its number: its due moment, through the Map, gives its
// frame. Nothing is added up from click to click.
//
// Read is for one goroutine, the device's; the other methods for any.
type Stream struct {
	now func() pad.Time
	out Output // set before the first Read

	next   atomic.Pointer[program] // what is to play
	sound  atomic.Pointer[waves]
	volume atomic.Uint64 // float64 bits, wanted
	mute   atomic.Bool

	lastRead atomic.Int64  // pad.Time
	reads    atomic.Int64  // that had something to give
	clicks   atomic.Int64  // begun
	skipped  atomic.Int64  // that could not be made in time
	jumps    atomic.Int64  // of the device
	ppm      atomic.Uint64 // float64 bits
	locked   atomic.Bool

	// Of the reading goroutine:
	m          *Map
	made       int64 // frames given
	taken      int64 // of them by the device
	pending    taking
	playing    *program
	k          int64 // its next click
	found      bool  // k has been looked up
	quietUntil int64 // until the device has taken this frame it is to be quiet
	applied    float64
	voices     [maxVoices]voice
}

// taking is that the device was seen to take what begins with a frame.
type taking struct {
	frame int64
	t     pad.Time
}

// program is a schedule and how far its clock is ahead of the stream's.
type program struct {
	s     Schedule
	ahead pad.Time
}

// voice is a click that sounds: its next frame is w[at]; before that it waits.
type voice struct {
	w    wave
	at   int
	wait int
}

// NewStream makes a stream. now is the monotonic clock on which the device's
// progress is measured; it may be called from any goroutine.
func NewStream(now func() pad.Time) *Stream {
	s := &Stream{now: now, m: NewMap(SampleRate), applied: math.NaN()}
	s.sound.Store(makeWaves(Sounds[0]))
	s.SetLoudness(0)
	return s
}

// Attach names the device that reads the stream; it is called before the first Read.
func (s *Stream) Attach(o Output) { s.out = o }

// Play plays a schedule, of which clock gives the time: a clock that runs evenly
// with the stream's. What played before ends at once. Nil ends only.
func (s *Stream) Play(sched Schedule, clock func() pad.Time) {
	if sched == nil {
		s.next.Store(nil)
		return
	}
	// The two clocks are read one between two readings of the other.
	before := s.now()
	theirs := clock()
	after := s.now()
	s.next.Store(&program{s: sched, ahead: theirs - (before + (after-before)/2)})
}

// SetSound sets the sound of the clicks that begin from now on, one of Sounds;
// it tells whether there is one of that name.
func (s *Stream) SetSound(name string) bool {
	if !known(name) {
		return false
	}
	s.sound.Store(makeWaves(name))
	return true
}

// SetLoudness sets the loudness in dB of full scale, QuietestDB to 0; what lies
// beyond is taken as the end. It holds for what the device has not yet taken.
func (s *Stream) SetLoudness(db float64) { s.volume.Store(math.Float64bits(gain(db))) }

// Mute makes the stream inaudible, or ends that. The clicks go on.
func (s *Stream) Mute(on bool) { s.mute.Store(on) }

// Read implements io.Reader: it gives up to 10 ms of sound. It does not allocate,
// does not wait and gives no error.
func (s *Stream) Read(p []byte) (int, error) {
	n := min(len(p)/FrameBytes, chunk)
	if n == 0 {
		return 0, nil
	}
	p = p[:n*FrameBytes]
	s.point()
	s.change()
	if s.m.Locked() {
		s.m.Follow(s.made)
		s.locked.Store(true)
		if s.playing != nil {
			s.place(int64(n))
		}
	}
	s.mix(p)
	s.made += int64(n)
	s.reads.Add(1)
	return len(p), nil
}

// point looks at how much the device has taken. The reader is called as soon as
// the device has taken a period, so a change that is seen here has just come
// about: the moment is good to about 0.4 ms, without a poll of its own.
//
// A device may take several periods in a burst, and a wake-up may come late and
// the next one soon after it. What is known of is the moment at which the ring was
// full, and that is the last taking of a burst and never one that came late. So a
// taking is a point only once it has been seen that the next one let as much time
// go by as half of what was taken lasts.
func (s *Stream) point() {
	now := s.now()
	s.lastRead.Store(int64(now))
	taken := s.made - int64(s.out.BufferedSize()/FrameBytes)
	if taken <= s.taken {
		return
	}
	if p := s.pending; p.frame < s.taken && now-p.t >= pad.Time(s.taken-p.frame)*pad.Second/SampleRate/2 {
		s.m.Point(p.frame, p.t+s.out.Delay())
		s.jumps.Store(s.m.Jumps())
		s.ppm.Store(math.Float64bits(s.m.PPM()))
	}
	s.pending = taking{s.taken, now} // the first frame of what was just taken
	s.taken = taken
}

// change takes up another schedule and another loudness. What was made of an old
// schedule and is not yet taken is made inaudible.
func (s *Stream) change() {
	if p := s.next.Load(); p != s.playing {
		if s.playing != nil {
			s.quietUntil = s.made
			s.voices = [maxVoices]voice{}
		}
		s.playing, s.found = p, false
		s.m.Free()
	}
	v := math.Float64frombits(s.volume.Load())
	if s.taken < s.quietUntil || s.mute.Load() {
		v = 0
	}
	if v != s.applied {
		s.applied = v
		s.out.SetVolume(v)
	}
}

// place begins the clicks of the next n frames.
func (s *Stream) place(n int64) {
	p := s.playing
	if !s.found {
		s.k, s.found = p.s.From(s.m.Time(s.made)+p.ahead), true
	}
	for ; s.k < p.s.Len(); s.k++ {
		due, level := p.s.At(s.k)
		onset := int64(math.RoundToEven(s.m.Frame(due - p.ahead)))
		if onset >= s.made+n {
			return
		}
		switch {
		case level == click.Silent:
		case onset < s.made-lateFrames:
			s.skipped.Add(1)
		default:
			s.begin(s.sound.Load()[level], int(max(onset-s.made, 0)))
			s.clicks.Add(1)
		}
	}
}

// begin gives a click to a voice that is free, or else to the one nearest its end.
func (s *Stream) begin(w wave, wait int) {
	best := 0
	for i := range s.voices {
		v := &s.voices[i]
		if v.w == nil {
			best = i
			break
		}
		if b := &s.voices[best]; len(v.w)-v.at < len(b.w)-b.at {
			best = i
		}
	}
	s.voices[best] = voice{w: w, wait: wait}
}

// mix fills p with the voices' sum.
func (s *Stream) mix(p []byte) {
	clear(p)
	n := len(p) / FrameBytes
	for i := range s.voices {
		v := &s.voices[i]
		if v.w == nil {
			continue
		}
		f := min(v.wait, n)
		v.wait -= f
		for ; f < n && v.at < len(v.w); f++ {
			at := p[f*FrameBytes:]
			x := math.Float32frombits(binary.LittleEndian.Uint32(at)) + v.w[v.at]
			bits := math.Float32bits(max(-1, min(1, x)))
			binary.LittleEndian.PutUint32(at, bits)
			binary.LittleEndian.PutUint32(at[4:], bits)
			v.at++
		}
		if v.at == len(v.w) {
			*v = voice{}
		}
	}
}

// StreamState is how far a stream has come.
type StreamState struct {
	Locked   bool     // the map to the device's clock is known
	LastRead pad.Time // on the stream's clock
	Reads    int64
	Clicks   int64   // begun
	Skipped  int64   // left out, since they could not be made in time
	Jumps    int64   // of the device: it stood still, or left something out
	PPM      float64 // how much longer than nominal the device's frames are
}

// State may be called from any goroutine.
func (s *Stream) State() StreamState {
	return StreamState{Locked: s.locked.Load(), LastRead: pad.Time(s.lastRead.Load()), Reads: s.reads.Load(), Clicks: s.clicks.Load(),
		Skipped: s.skipped.Load(), Jumps: s.jumps.Load(), PPM: math.Float64frombits(s.ppm.Load())}
}
