package page

import (
	"fmt"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// mostBars is how many presses a strip draws, so that a page stays small enough
// to open; of a longer run the last reps are shown.
const mostBars = 12_000

// stripW is the width of a strip, and stripH about the height of its lines.
const stripW, stripH = 960, 340

// strip draws every rep, as a recorder that begins anew with each: a band a
// panel in the layout's order, within it a line a rep from above, with the due
// moments and their inner windows behind.
func strip(r *view.Played) (p *plot, note string) {
	reps, first := len(r.Report.Reps), int64(0)
	if n := len(r.Bars); n > mostBars {
		first = r.Bars[n-mostBars].Rep + 1
		note = fmt.Sprintf("The last %d of %d reps are drawn.", int64(reps)-first, reps)
	}
	shown := max(1, reps-int(first))
	outer := r.Windows[2]
	const left, top = 34.0, 18.0
	each := min(max(stripH/float64(shown*len(r.Layout.Panels)), 1.5), 9)
	band := each*float64(shown) + 8
	p = &plot{w: stripW, h: top + band*float64(len(r.Layout.Panels)) + 22, title: "Every rep: which panel was down when",
		desc: fmt.Sprintf("Time within the rep runs from left to right, in ms. A band for each panel: %s. Within a band a line for each of %d reps, the first above. %s",
			strings.Join(ids(r.Layout), ", "), shown, overlapWords(r))}
	x := scale{ms(outer.Early), ms(drawn(r)) + ms(outer.Late), left, p.w - 8}
	bottom := top + band*float64(len(r.Layout.Panels))
	for _, t := range x.ticks(10) {
		p.line(gridLine, x.at(t), top, x.at(t), bottom)
		p.text(atMiddle, min(x.at(t), p.w-18), bottom+14, whole(t))
	}
	p.text(atEnd, p.w-8, 12, "ms from the rep's first slot")
	for i, plate := range r.Layout.Panels {
		y := top + float64(i)*band
		for _, n := range r.Notes {
			if int(n.Panel) != i {
				continue
			}
			for b := 2; b >= 0; b-- {
				w := r.Windows[b]
				p.fill(fmt.Sprintf("win%d", b), x.at(ms(n.T+w.Early)), y, x.at(ms(n.T+w.Late))-x.at(ms(n.T+w.Early)), band)
			}
		}
		p.line(beatLine, left, y+band, p.w-8, y+band)
		p.text(atStart, 2, y+band/2+4, plate.ID)
	}
	width := max(1, each*0.72)
	for _, f := range []struct {
		foot  pad.Foot
		class string
	}{{view.AnyFoot, anyFoot}, {pad.Left, leftFoot}, {pad.Right, rightFoot}} {
		var d, core strings.Builder
		for i := range r.Bars {
			b := &r.Bars[i]
			if b.Foot != f.foot || b.Rep < first {
				continue
			}
			up := b.Up
			if up == pad.Never {
				up = b.Down // only its beginning is known
			}
			y := top + float64(b.Panel)*band + 4 + (float64(b.Rep-first)+0.5)*each
			x0, x1 := x.at(ms(b.Down)), x.at(ms(up))
			x1 = max(x1, x0+1.5)
			fmt.Fprintf(&d, "M%s %sH%s", num(x0), num(y), num(x1))
			if f.foot == pad.Right && x1-x0 > 4 {
				fmt.Fprintf(&core, "M%s %sH%s", num(x0+1.5), num(y), num(x1-1.5))
			}
		}
		p.strokes(f.class, width, d.String())
		p.strokes("core", width*0.4, core.String())
	}
	for _, n := range r.Notes {
		y := top + float64(n.Panel)*band
		p.line(inkLine, x.at(ms(n.T)), y, x.at(ms(n.T)), y+band)
	}
	return p, note
}

// rest is how much of the time after the last note of a rep is drawn.
const rest = 600 * pad.Millisecond

// drawn gives how much of a rep is drawn, from its first slot: a long rest at
// its end is left out.
func drawn(r *view.Played) pad.Time {
	last := pad.Time(0)
	for _, n := range r.Notes {
		last = max(last, n.T+n.Hold)
	}
	return min(r.RepLength, last+rest)
}

func ids(l *pad.Layout) []string {
	var out []string
	for _, p := range l.Panels {
		out = append(out, p.ID)
	}
	return out
}

// overlapWords sums the overlaps up for those who do not see them.
func overlapWords(r *view.Played) string {
	n, of := 0, r.Report.Statistics.Overlaps
	for i := range of {
		if of[i].Time.Median.Value > 0 {
			n++
		}
	}
	return fmt.Sprintf("Of %d steps from note to note %d mostly overlap.", len(of), n)
}
