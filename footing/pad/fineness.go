package pad

import (
	"fmt"
	"math"
)

// Fineness is the time within which a pad cannot tell two moments apart: that
// between two of its reports. 0 stands for a pad of which that is not known.
type Fineness Time

// SD gives the standard deviation in microseconds that the interval alone gives
// to a moment: interval/√12, that of a uniform distribution, since a press
// is as likely at every point of the interval.
func (f Fineness) SD() float64 { return float64(f) / math.Sqrt(12) }

// sdOfMAD is the standard deviation of a normal distribution whose median absolute
// deviation is 1: 1/Φ⁻¹(3/4).
const sdOfMAD = 1.4826

// HidesSD tells whether a standard deviation, in microseconds, is finer than the pad tells:
// more of its square comes from the pad than from the player.
func (f Fineness) HidesSD(us float64) bool { return f > 0 && us < math.Sqrt2*f.SD() }

// HidesMAD is HidesSD for a median absolute deviation.
func (f Fineness) HidesMAD(us float64) bool { return f.HidesSD(sdOfMAD * us) }

// HidesMean tells whether a mean or a median of offsets, in microseconds, may as well be 0: it
// is less than what the interval alone spreads a press by.
func (f Fineness) HidesMean(us float64) bool { return f > 0 && math.Abs(us) < f.SD() }

// Hides tells whether two moments that are so far apart, in microseconds, may as well be one.
func (f Fineness) Hides(us float64) bool { return f > 0 && math.Abs(us) < float64(f) }

// String says what the pad hides.
func (f Fineness) String() string {
	return fmt.Sprintf("the pad reports every %.1f ms, which alone spreads a press by %.2f ms (interval/√12): a standard deviation below %.1f ms is more the pad's than yours, and what is less than %.1f ms apart it cannot tell apart",
		Time(f).Milliseconds(), f.SD()/1000, math.Sqrt2*f.SD()/1000, Time(f).Milliseconds())
}
