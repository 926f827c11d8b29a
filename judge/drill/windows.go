package drill

import (
	"fmt"

	"heeltoe/footing/pad"
)

// Band is how far off a press was.
type Band uint8

// Bands, from the tightest. Absent is a note without a press.
const (
	Inner Band = iota
	Middle
	Outer
	Absent
)

// BandNames are the words for the bands, in their order.
var BandNames = [...]string{"inner", "middle", "outer", "absent"}

func (b Band) String() string { return BandNames[b] }

// Bound is the early and the late end of a band, as offsets from the due
// moment: Early is 0 or below, Late is 0 or above. Both ends belong to the band.
type Bound struct{ Early, Late pad.Time }

// Windows are the bounds of the three bands, from the tightest.
type Windows [3]Bound

// MaxWindow is how far from the due moment a window may reach, either way.
const MaxWindow = 2 * pad.Second

// DefaultWindows are the project's own, a little larger on the late side
// (common practice, no source).
var DefaultWindows = Windows{
	Inner:  {-40 * pad.Millisecond, 50 * pad.Millisecond},
	Middle: {-70 * pad.Millisecond, 90 * pad.Millisecond},
	Outer:  {-105 * pad.Millisecond, 135 * pad.Millisecond},
}

// Check tells what is wrong with w, or nil: each bound holds the due moment,
// each band lies within the next wider one, none reaches past MaxWindow.
func (w Windows) Check() error {
	for i, b := range w {
		name := Band(i).String()
		switch {
		case b.Early > 0 || b.Late < 0:
			return fmt.Errorf("%s is [%d, %d]: the first is 0 or below, the second 0 or above", name, b.Early, b.Late)
		case b.Early < -MaxWindow || b.Late > MaxWindow:
			return fmt.Errorf("%s reaches further than %d µs", name, MaxWindow)
		case i > 0 && (b.Early > w[i-1].Early || b.Late < w[i-1].Late):
			return fmt.Errorf("%s is narrower than %s", name, Band(i-1))
		}
	}
	return nil
}

// Band gives the tightest band that holds offset; a bound belongs to its band.
// What lies in none is Absent.
func (w *Windows) Band(offset pad.Time) Band {
	for b := range w {
		if w[b].Early <= offset && offset <= w[b].Late {
			return Band(b)
		}
	}
	return Absent
}
