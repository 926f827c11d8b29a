package sound_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/click"
)

// maxRead is how many bytes the device asks for at once.
const maxRead = 1 << 14

// simulated is a sound device in virtual time. It works as real ones do: a ring
// of periods that plays by a crystal of its own; whenever the ring has room the
// next period is taken from a buffer in between, and that is filled by Reads.
type simulated struct {
	period int     // frames
	burst  int     // periods that become free at once; the ring is twice as long
	buffer int     // bytes in between that are kept full
	jitter float64 // µs rms by which a taking is seen late or early
	late   float64 // share of takings that are seen much later, by up to 30 ms
	// rate gives by how much the crystal's frames are longer than nominal at a moment.
	rate func(us float64) float64
	// stall gives how long the device stands still before it plays period k, in µs.
	stall func(k int64) float64
	// starved tells whether nothing can be read before period k is taken.
	starved func(k int64) bool

	rng    *rand.Rand
	now    float64   // µs, true time
	plays  []float64 // when each period begins to play
	seen   float64   // what the stream's clock shows
	queued []byte
	volume float64
	took   int64 // frames taken
	stream *sound.Stream
	store  []byte // that queued lies in

	// hear is called for each period as it will sound: its first frame, when it
	// begins to sound and the length of a frame.
	hear func(frames []byte, first int64, us, frameUS float64)
}

func newSimulated(seed uint64) *simulated {
	d := &simulated{period: 1024, burst: 1, buffer: sound.SampleRate / 10 * sound.FrameBytes, jitter: 400,
		rate: func(float64) float64 { return 0 }, stall: func(int64) float64 { return 0 }, starved: func(int64) bool { return false },
		rng: rand.New(rand.NewPCG(seed, 1)), store: make([]byte, 1<<20)}
	d.queued = d.store[:0]
	d.stream = sound.NewStream(d.clock)
	d.stream.Attach(d)
	return d
}

func (d *simulated) ring() int           { return 2 * d.burst }
func (d *simulated) BufferedSize() int   { return len(d.queued) }
func (d *simulated) SetVolume(v float64) { d.volume = v }
func (d *simulated) Delay() pad.Time {
	return pad.Time(d.ring()*d.period) * pad.Second / sound.SampleRate
}
func (d *simulated) Err() error      { return nil }
func (d *simulated) Close() error    { return nil }
func (d *simulated) clock() pad.Time { return pad.Time(d.seen) }

// run lets virtual time pass until the moment given.
func (d *simulated) run(t testing.TB, until pad.Time) {
	for d.now < float64(until) {
		d.step(t)
	}
}

// step is one period.
func (d *simulated) step(t testing.TB) {
	k := len(d.plays)
	for !d.starved(int64(k)) && len(d.queued) < d.buffer {
		if cap(d.queued)-len(d.queued) < maxRead { // to the start of the store again
			d.queued = append(d.store[:0], d.queued...)
		}
		had := len(d.queued)
		n, err := d.stream.Read(d.queued[had : had+maxRead])
		if err != nil || n == 0 || n%sound.FrameBytes != 0 {
			t.Fatalf("Read gave %d, %v", n, err)
		}
		d.queued = d.queued[:had+n]
	}
	// A period is taken when the one before it has been written into the ring,
	// and that when as many have been played as become free at once.
	frameUS := 1e6 / sound.SampleRate
	if k == 0 {
		d.plays = append(d.plays, 0)
	} else {
		frameUS *= 1 + d.rate(d.plays[k-1])
		d.plays = append(d.plays, d.plays[k-1]+float64(d.period)*frameUS+d.stall(int64(k)))
	}
	if at := (k-1)/d.burst*d.burst - d.ring() + d.burst; at > 0 {
		d.now = d.plays[at]
	}
	full := d.period * sound.FrameBytes
	n := min(full, len(d.queued))
	if d.hear != nil {
		frames := d.queued[:n:n] // a copy, where silence is to follow
		if n < full {
			frames = append(frames, silence[:full-n]...)
		}
		d.hear(frames, d.took, d.plays[k], frameUS)
	}
	d.queued = d.queued[n:]
	d.took += int64(n / sound.FrameBytes)
	d.seen = max(d.seen, d.now+d.rng.NormFloat64()*d.jitter)
	if d.rng.Float64() < d.late {
		d.seen += d.rng.Float64() * 30_000
	}
}

// onset is a click as it was heard.
type onset struct {
	us    float64 // when it sounded
	frame int64
	peak  float64 // of its first 15 ms
}

// ear finds onsets in what is heard: the first frame that is not silent after at
// least gap of silence.
type ear struct {
	gap    int64 // frames
	quiet  int64 // frames of silence up to now
	onsets []onset
}

var silence = make([]byte, 1<<16)

func (e *ear) hear(frames []byte, first int64, us, frameUS float64) {
	if bytes.Equal(frames, silence[:len(frames)]) {
		e.quiet += int64(len(frames) / sound.FrameBytes)
		return
	}
	for i := range len(frames) / sound.FrameBytes {
		x := float64(math.Float32frombits(binary.LittleEndian.Uint32(frames[i*sound.FrameBytes:])))
		if x == 0 {
			e.quiet++
			continue
		}
		if e.quiet >= e.gap {
			// A sine begins at 0: the onset is the silent frame before.
			e.onsets = append(e.onsets, onset{us: us + float64(i-1)*frameUS, frame: first + int64(i) - 1})
		}
		e.quiet = 0
		if n := len(e.onsets); n > 0 && first+int64(i)-e.onsets[n-1].frame < 720 {
			e.onsets[n-1].peak = max(e.onsets[n-1].peak, math.Abs(x))
		}
	}
}

// schedule makes the clicks of a drill of the tempo given that lasts at least as long as asked.
func schedule(t testing.TB, bpm float64, lead, length pad.Time, o click.Options) *click.Schedule {
	t.Helper()
	beats := int64(float64(length)/60e6*bpm) + 1
	none := int64(0)
	d, err := drill.New(drill.Spec{Name: "g", Layout: "single", BPM: bpm, PerBeat: 4, Reps: (beats + 3) / 4, CountInBeats: &none,
		Steps: "nw . . . c . . . se . . . c . . ."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := click.New(d, lead, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// compare pairs onsets with the clicks that are to be heard, in order, and gives
// the largest offset in µs, of each onset from its due moment. The clock of the
// schedule is ahead of the device's by ahead.
func compare(t testing.TB, got []onset, s *click.Schedule, ahead pad.Time) (offsets []float64, worst float64) {
	t.Helper()
	i := 0
	for k := range s.Len() {
		due, level := s.At(k)
		if level == click.Silent {
			continue
		}
		if i == len(got) {
			break
		}
		off := got[i].us - float64(due-ahead)
		if math.Abs(off) > 20_000 {
			t.Fatalf("click %d, due at %d, was heard %.0f µs off", k, due-ahead, off)
		}
		offsets = append(offsets, off)
		worst = max(worst, math.Abs(off))
		i++
	}
	if i != len(got) {
		t.Fatalf("%d clicks were heard, %d are due", len(got), i)
	}
	return offsets, worst
}
