package padcheck

import (
	"fmt"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// coarse is from when on an interval is said to hide things: a bracket's two
// panels are often 3 ms apart and less (design value, no source).
const coarse = 5 * pad.Millisecond

// verdict puts into words what was found, the worst first, and what it means.
func verdict(f *view.PadCheck) {
	say := func(format string, args ...any) { f.Verdict = append(f.Verdict, fmt.Sprintf(format, args...)) }
	names := func(is func(p *view.PadPanel) bool) string {
		var ids []string
		for i := range f.Panels {
			if is(&f.Panels[i]) {
				ids = append(ids, f.Panels[i].Panel)
			}
		}
		return strings.Join(ids, ", ")
	}
	if ids := names(func(p *view.PadPanel) bool { return p.Dead }); ids != "" {
		say("Dead: %s. Look at the sensor and its cable; drills with this panel cannot be judged.", ids)
	}
	if ids := names(func(p *view.PadPanel) bool { return p.Stuck }); ids != "" {
		say("Down with nobody on the pad: %s. Look for what lies on it, or teach it again with higher thresholds.", ids)
	}
	for i := range f.Panels {
		p := &f.Panels[i]
		if len(p.Fires) > 0 {
			say("%s sets off %s as well: presses of a neighbour may be this one's. Look at the wiring, or raise the thresholds.", p.Panel, strings.Join(p.Fires, ", "))
		}
		if p.Asked > 0 && p.Presses > 0 && p.Presses < p.Asked {
			say("%s was seen %d times of %d: it misses presses, or takes a firm foot.", p.Panel, p.Presses, p.Asked)
		}
	}
	if f.Debounce > 0 {
		say("The contacts of %s chatter: a debounce of %.0f ms merges that. A press again within that time of its release is then not seen.",
			names(func(p *view.PadPanel) bool { return p.Chatter > 0 }), f.Debounce.Milliseconds())
	}
	if f.Tapped > 0 && f.Taps < f.Tapped {
		say("Of %d quick taps %d were seen: fast repeats on one panel will look absent.", f.Tapped, f.Taps)
	}
	for i, d := range f.Devices {
		which := "The pad"
		if len(f.Devices) > 1 {
			which = fmt.Sprintf("Device %d", i)
		}
		switch {
		case d.Interval == 0:
			say("%s reports only changes, and the system does not tell how often it may.", which)
		case d.Interval >= coarse:
			say("%s reports every %.1f ms: that alone spreads each press by %.2f ms, and orders and overlaps within %.1f ms cannot be told.",
				which, d.Interval.Milliseconds(), d.Quantisation.Milliseconds(), d.Interval.Milliseconds())
		default:
			say("%s reports every %.1f ms: that spreads a press by %.2f ms, which is little.", which, d.Interval.Milliseconds(), d.Quantisation.Milliseconds())
		}
	}
	if s := f.Seam; s != nil && s.Strikes > 0 {
		say("%s comes %.1f ms after %s, give or take %.1f ms: half of your own strikes' unevenness is in that.",
			s.Panels[1], s.Delay.Milliseconds(), s.Panels[0], s.Spread.Milliseconds())
	}
	means(f)
}

// means says what was found means for the figures of a run.
func means(f *view.PadCheck) {
	say := func(format string, args ...any) { f.Means = append(f.Means, fmt.Sprintf(format, args...)) }
	if f.Finest == 0 {
		say("How finely the pad tells moments is not known: no figure is greyed for it.")
	} else {
		fine := pad.Fineness(f.Finest)
		text := fine.String()
		say("%s. Runs on this pad show such figures grey or in brackets.", strings.ToUpper(text[:1])+text[1:])
		say("A press is seen %.1f ms late on average, half an interval; the delay test (heeltoe delay) has that in it.", f.Finest.Milliseconds()/2)
		say("The shortest overlap that the pad can tell is %.1f ms: whether a roll's first panel was still down is not known any finer.", f.Finest.Milliseconds())
	}
	if f.Debounce > 0 {
		say("With the debounce of %.0f ms one panel cannot be struck again within %.0f ms of its release: drills on one panel need longer than that between two presses.",
			f.Debounce.Milliseconds(), f.Debounce.Milliseconds())
	}
	if s := f.Seam; s != nil && s.Strikes > 0 {
		say("Without its delay taken off, every bracket over the seam and every step from pad to pad would look %.1f ms off.", s.Delay.Abs().Milliseconds())
	}
}
