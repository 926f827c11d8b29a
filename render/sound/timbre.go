package sound

import (
	"math"
	"slices"

	"heeltoe/trainer/click"
)

// Sounds are the sounds that a click can have: a short dry tick, a struck block
// of wood, a soft tone.
var Sounds = []string{"tick", "wood", "tone"}

// partial is one sine of a sound.
type partial struct {
	hz, decayMS, share float64 // decay: the time to fall to 1/e
}

// recipe is how a sound is made: a sum of decaying sines.
type recipe struct {
	attackMS, lengthMS float64
	partials           []partial
}

// The figures are chosen by ear and eye, no source. All lie where hearing is
// keen and where small loudspeakers still play.
var recipes = map[string]recipe{
	"tick": {0.2, 14, []partial{{2600, 2.2, 0.65}, {4300, 1.2, 0.35}}},
	"wood": {0.3, 45, []partial{{820, 11, 0.6}, {2130, 5, 0.3}, {3470, 2, 0.1}}},
	"tone": {2.0, 70, []partial{{880, 22, 0.85}, {1760, 12, 0.15}}},
}

// pitch and height of a level: accents are a fifth higher and louder.
var levels = [click.Accent + 1]struct{ pitch, height float64 }{
	click.Part: {1, 0.25}, click.Beat: {1, 0.5}, click.Accent: {1.5, 0.9},
}

// wave is a mono sound, its first frame the click's onset, its peak at most 0.9.
type wave []float32

// waves are the sounds of one name, by level.
type waves [click.Accent + 1]wave

// makeWaves computes the sound called name.
func makeWaves(name string) *waves {
	r := recipes[name]
	var out waves
	for level := click.Part; level <= click.Accent; level++ {
		v := levels[level]
		n := int(r.lengthMS * SampleRate / 1000)
		x := make([]float64, n)
		peak := 0.0
		for i := range x {
			t := float64(i) / SampleRate
			for _, p := range r.partials {
				x[i] += p.share * math.Sin(2*math.Pi*p.hz*v.pitch*t) * math.Exp(-t*1000/p.decayMS)
			}
			if a := t * 1000 / r.attackMS; a < 1 {
				x[i] *= (1 - math.Cos(math.Pi*a)) / 2
			}
			if left := float64(n-i) / float64(n); left < 0.2 { // to nothing at its end
				x[i] *= left / 0.2
			}
			peak = max(peak, math.Abs(x[i]))
		}
		w := make(wave, n)
		for i := range x {
			w[i] = float32(x[i] / peak * v.height)
		}
		out[level] = w
	}
	return &out
}

// known tells whether there is a sound called name.
func known(name string) bool { return slices.Contains(Sounds, name) }

// QuietestDB is the least loudness there is, in dB of full scale.
const QuietestDB = -60.0

// gain gives the factor of a loudness in dB of full scale, QuietestDB to 0.
func gain(db float64) float64 {
	return math.Pow(10, max(QuietestDB, min(0, db))/20)
}
