package pad

import (
	"math"
	"time"
)

// Time is a moment or a span in integer microseconds on one monotonic clock.
// Zero is the clock's own start; the values of two clocks do not compare.
type Time int64

// Spans of Time.
const (
	Microsecond Time = 1
	Millisecond      = 1000 * Microsecond
	Second           = 1000 * Millisecond
	Minute           = 60 * Second
	Hour             = 60 * Minute
)

// Never is later than every moment of a clock.
const Never Time = math.MaxInt64

// FromDuration gives d in whole microseconds, cut towards zero.
func FromDuration(d time.Duration) Time { return Time(d / time.Microsecond) }

// Duration gives t as a time.Duration. Its range is about ±292 years in
// nanoseconds; a t outside it is clamped.
func (t Time) Duration() time.Duration {
	const limit = Time(math.MaxInt64 / int64(time.Microsecond))
	return time.Duration(max(-limit, min(limit, t))) * time.Microsecond
}

// Milliseconds gives t in milliseconds.
func (t Time) Milliseconds() float64 { return float64(t) / float64(Millisecond) }

// Abs gives the size of t without its sign.
func (t Time) Abs() Time {
	if t < 0 {
		return -t
	}
	return t
}
