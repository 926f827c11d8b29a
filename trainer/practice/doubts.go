package practice

import (
	"fmt"
	"strings"

	"heeltoe/footing"
	"heeltoe/judge/drill"
)

// Doubts says why the footing of d may be too much for the player at its tempo, by what is
// known of the body; nothing where d has no footing or it works. It never keeps anybody
// from playing: trying is how limits are measured.
func (c *Choice) Doubts(d *drill.Drill) string {
	if d.Footing == nil {
		return ""
	}
	windows := drill.DefaultWindows
	if w, err := ParseWindows(c.Windows); err == nil && w != nil {
		windows = *w
	}
	b, err := (&BodyChoice{Shoe: float64(c.Shoe), Player: c.Player, Pad: c.Pad}).Body()
	if err != nil {
		return "" // whatever it is, the run itself tells of it
	}
	f, err := footing.Check(d, d.Footing, b.Body, windows)
	if err != nil || f.Feasible {
		return ""
	}
	by := "the default limits"
	if footing.BackingOf(d, d.Footing, b.Body).Measured() {
		by = "what was measured"
	}
	return fmt.Sprintf("By %s this footing is too much at %g beats a minute: %s. heeltoe plan shows other ways.", by, d.BPM, strings.Join(f.WhyNot, "; "))
}
