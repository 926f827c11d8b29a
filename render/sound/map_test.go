package sound_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/render/sound"
)

// follow runs a map on a device of the rate given, period by period, and calls
// each with the true moment and the error of the followed map, both in µs.
func follow(m *sound.Map, length float64, rng *rand.Rand, jitter float64, rate func(us float64) float64, each func(us, off float64)) {
	const period, ahead = 1024, 7000 // frames; what is made before it is taken
	us := 0.0
	for frame := int64(period); us < length; frame += period {
		us += period * 1e6 / sound.SampleRate * (1 + rate(us))
		m.Point(frame, pad.Time(math.Round(us+rng.NormFloat64()*jitter)))
		if !m.Locked() {
			continue
		}
		for f := frame + ahead; f < frame+ahead+period; f += 512 {
			m.Follow(f)
		}
		// True time of the frame that is made now, by the crystal's rate from here on.
		f := frame + ahead + 512
		each(us, float64(m.Time(f))-(us+float64(ahead+512)*1e6/sound.SampleRate*(1+rate(us))))
	}
}

// Over 8 hours with a device that is 200 ppm off, seen with 0.4 ms rms, and whose
// crystal wanders, the map stays within 1 ms from the first moment on and knows
// the rate to 2 ppm after a minute.
func TestMapOverEightHours(t *testing.T) {
	for _, ppm := range []float64{200, -200, 0} {
		m := sound.NewMap(sound.SampleRate)
		rng := rand.New(rand.NewPCG(8, uint64(ppm+1000)))
		rate := func(us float64) float64 { return ppm*1e-6 + wander(us) }
		var worst, late, last float64
		points := 0
		follow(m, 8*3.6e9, rng, 400, rate, func(us, off float64) {
			points++
			worst, last = max(worst, math.Abs(off)), off
			if us > 60e6 {
				late = max(late, math.Abs(off))
				if d := m.PPM() - rate(us)*1e6; math.Abs(d) > 2 {
					t.Fatalf("after %.0f s the rate is %.2f ppm off", us/1e6, d)
				}
			}
		})
		t.Logf("device %+.0f ppm: worst %.0f µs, after the first minute %.0f µs, at the end %.0f µs", ppm, worst, late, last)
		if points < 1_300_000 || worst > 1000 || late > 200 || m.Jumps() != 0 {
			t.Errorf("device %+.0f ppm: %d points, worst %.0f µs, later %.0f µs, %d jumps", ppm, points, worst, late, m.Jumps())
		}
	}
}

// Whatever the points, the followed map has no step and its rate no jump, but
// where it was set anew: between one Follow and the next its line is bent by at
// most 100 ppm a second.
func TestMapHasNoSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := sound.NewMap(sound.SampleRate)
		frame, us := int64(0), 0.0
		made := int64(0)
		ppm := rapid.Float64Range(-300, 300).Draw(t, "ppm")
		noise := rapid.SampledFrom([]float64{0, 100, 400, 1500, 4000}).Draw(t, "noise")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		compared := 0
		for range 400 {
			step := rapid.Int64Range(200, 4000).Draw(t, "frames")
			frame += step
			us += float64(step) * 1e6 / sound.SampleRate * (1 + ppm*1e-6)
			jumps, locked := m.Jumps(), m.Locked()
			m.Point(frame, pad.Time(us+rng.NormFloat64()*noise))
			if !m.Locked() {
				continue
			}
			next := max(made, frame+4800)
			if !locked || m.Jumps() != jumps {
				m.Follow(next) // set anew
				made = next
				continue
			}
			// Where the line so far has the next frame, and the rate there.
			const span = 4_800_000 // frames, for a rate to 0.01 ppm through whole µs
			t0, s0 := m.Time(next), float64(m.Time(next+span)-m.Time(next))
			seconds := float64(next-made) / sound.SampleRate
			m.Follow(next)
			t1, s1 := m.Time(next), float64(m.Time(next+span)-m.Time(next))
			if (t1 - t0).Abs() > 1 {
				t.Fatalf("the map stepped by %d µs", t1-t0)
			}
			if bend := math.Abs(s1-s0) / 1e8; bend > sound.MaxBend*seconds*1.001+3e-8 {
				t.Fatalf("the rate changed by %.2f ppm in %.3f s", bend*1e6, seconds)
			}
			made = next
			compared++
			// Frame and Time are each other's inverse.
			at := pad.Time(us) + 1_000_000
			if back := m.Time(int64(math.Round(m.Frame(at)))); (back - at).Abs() > 12 {
				t.Fatalf("the frame of %d plays at %d", at, back)
			}
		}
		if noise <= 400 && compared < 300 {
			t.Fatalf("the map was followed %d times only", compared)
		}
	})
}

// A crystal that changes by 10 ppm within a minute is followed within 0.3 ms.
func TestMapFollowsAChangingRate(t *testing.T) {
	m := sound.NewMap(sound.SampleRate)
	rate := func(us float64) float64 { return 50e-6 + 10e-6*max(0, min(1, (us-120e6)/60e6)) }
	worst := 0.0
	follow(m, 300e6, rand.New(rand.NewPCG(4, 4)), 400, rate, func(us, off float64) {
		if us > 60e6 {
			worst = max(worst, math.Abs(off))
		}
	})
	t.Logf("worst %.0f µs", worst)
	if worst > 300 || worst == 0 {
		t.Errorf("worst %.0f µs", worst)
	}
}
