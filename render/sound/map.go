package sound

import (
	"math"

	"heeltoe/footing/pad"
)

// Numbers of the map.
const (
	// MaxBend is the most by which the rate of the followed map may change in a
	// second, and the most by which it may differ from the measured rate of the
	// device to take back an error: 100 parts in a million.
	MaxBend = 100e-6

	lockPoints = 5                            // that must agree before the map is believed
	lockWithin = float64(3 * pad.Millisecond) // between the extremes of their residuals
	strayBound = float64(4 * pad.Millisecond) // a point farther off than this is not used
	pointSD    = 400.0                        // µs of one point, as measured on a JACK server (see Stream.point)
	pointMost  = 3 * pointSD                  // a point farther off than this counts as one so far off
	rateSD     = 100e-6                       // of a device's rate about its nominal one, before anything is known
	rateWalk   = 1e-20                        // variance per µs: 0.1 ppm in a root second
	takeBack   = 4e6                          // µs in which a small error of the followed map is taken back
)

// Map says when the device plays which frame: the map from the audio clock to
// the monotonic clock. It has two parts.
//
// The estimate takes in the points at which the device was seen to take frames.
// It is the Kalman filter of a clock with an offset and a rate that wander
// (the usual two-state clock model), made robust: a point that is off its
// prediction counts up to a bound, and one that is far off not at all.
//
// The followed map is the one by which clicks are placed. It has no steps: its
// line is bent where the next frame is to be made, and its rate moves towards the
// estimated rate plus what takes back the error that is left. That part is at
// most MaxBend, and no rate changes by more than MaxBend in a second. So a
// device may be far off its nominal rate (200 ppm, say) without a drift, and yet
// from one click to the next nothing can be heard.
//
// There are two moments at which the map is set anew instead: before a run's first
// click (Free), and after the device itself has jumped, when what it plays has
// already been torn off the beat and bending would take minutes to put it back.
//
// A Map is for one goroutine. No method allocates.
type Map struct {
	frameUS float64 // nominal length of a frame

	// Points not yet explained, the newest last, as moments less frames.
	recent  [lockPoints]residual
	recentN int
	strays  int // points in a row that were far off on one side; negative: early
	locked  bool
	jumps   int64

	// The estimate: frame `at` plays at `t`, with the rate off by `rho`.
	at            int64
	t             float64
	rho           float64
	ptt, ptr, prr float64 // their covariance

	// The followed map: frame `from` plays at `start`, with the rate off by `slope`.
	from  int64
	start float64
	slope float64
	free  bool // it is to be set anew
}

type residual struct {
	frame int64
	t     float64
}

// NewMap makes the map of a device whose nominal rate is in frames a second.
func NewMap(rate int) *Map {
	return &Map{frameUS: 1e6 / float64(rate), prr: rateSD * rateSD, free: true}
}

// Locked tells whether the map can be used: enough points have agreed.
func (m *Map) Locked() bool { return m.locked }

// Jumps gives how often the device has left out or held up what it plays.
func (m *Map) Jumps() int64 { return m.jumps }

// PPM gives how many parts in a million the frames of the device are longer than
// nominal; a device that is too slow has a positive figure.
func (m *Map) PPM() float64 { return m.rho * 1e6 }

// Point takes in that frame plays at t, as far as could be seen. Frames must rise.
func (m *Map) Point(frame int64, t pad.Time) {
	if m.recentN == lockPoints {
		copy(m.recent[:], m.recent[1:])
		m.recentN--
	}
	m.recent[m.recentN] = residual{frame, float64(t)}
	m.recentN++
	if !m.locked {
		m.lock()
		return
	}
	dt := float64(frame-m.at) * m.frameUS * (1 + m.rho)
	m.at = frame
	m.t += dt
	m.ptt += dt * (2*m.ptr + dt*m.prr)
	m.ptr += dt * m.prr
	m.prr += dt * rateWalk
	off := float64(t) - m.t
	if math.Abs(off) > strayBound {
		side := int(math.Copysign(1, off))
		if m.strays*side < 0 {
			m.strays = 0
		}
		m.strays += side
		if m.strays*side >= lockPoints && m.lock() {
			m.jumps++
		}
		return
	}
	m.strays = 0
	off = max(-pointMost, min(pointMost, off))
	s := m.ptt + pointSD*pointSD
	kt, kr := m.ptt/s, m.ptr/s
	m.t += kt * off
	m.rho += kr * off
	m.prr -= kr * m.ptr
	m.ptr -= kt * m.ptr
	m.ptt -= kt * m.ptt
}

// lock sets the estimate by the recent points where these agree with each other.
func (m *Map) lock() bool {
	if m.recentN < lockPoints {
		return false
	}
	last := m.recent[lockPoints-1].frame
	sum, least, most := 0.0, math.Inf(1), math.Inf(-1)
	for _, p := range m.recent {
		at := p.t + float64(last-p.frame)*m.frameUS*(1+m.rho)
		sum, least, most = sum+at, min(least, at), max(most, at)
	}
	if most-least > lockWithin {
		return false
	}
	m.at, m.t = last, sum/lockPoints
	m.ptt, m.ptr = pointSD*pointSD/lockPoints, 0
	m.strays, m.locked, m.free = 0, true, true
	return true
}

// Free lets the followed map be set to the estimate at once: nothing has been
// placed by it yet.
func (m *Map) Free() { m.free = true }

// Follow moves the followed map on to the frame that is to be made next. The map
// must be locked; frames must not fall.
func (m *Map) Follow(frame int64) {
	want := m.t + float64(frame-m.at)*m.frameUS*(1+m.rho)
	if m.free {
		m.from, m.start, m.slope, m.free = frame, want, m.rho, false
		return
	}
	dt := float64(frame-m.from) * m.frameUS * (1 + m.slope)
	m.from = frame
	m.start += dt
	bend := MaxBend * dt / 1e6
	back := max(-MaxBend, min(MaxBend, (want-m.start)/takeBack))
	m.slope += max(-bend, min(bend, m.rho+back-m.slope))
}

// Frame gives the frame, as a fraction, that the followed map has at t.
func (m *Map) Frame(t pad.Time) float64 {
	return float64(m.from) + (float64(t)-m.start)/(m.frameUS*(1+m.slope))
}

// Time gives the moment at which the followed map has a frame.
func (m *Map) Time(frame int64) pad.Time {
	return pad.Time(math.Round(m.start + float64(frame-m.from)*m.frameUS*(1+m.slope)))
}
