package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
)

// backing says in words what of a footing rests on what was measured.
func backing(r *planRequest, f *footing.Footing) string {
	b := footing.BackingOf(r.drill, f.Contacts, r.body)
	var of []string
	if b.UpTo > 0 {
		of = append(of, fmt.Sprintf("measured, up to %.1f", b.UpTo))
	}
	if b.Pairs {
		of = append(of, "reach measured")
	}
	if of == nil {
		return "not measured"
	}
	return strings.Join(of, "; ")
}

// measuredLimit gives how a limit of the body was measured, nil where it is a default.
func measuredLimit(b *practice.Body, of footing.Limit) *profile.Limit {
	if !b.Measured.Has(of) {
		return nil
	}
	i := slices.IndexFunc(b.Player.Limits, func(l profile.Limit) bool { return l.Of == of })
	return &b.Player.Limits[i]
}

// printBody says of each figure of the body that was planned for where it comes from.
func printBody(w io.Writer, b *practice.Body) {
	whose := "the body"
	if b.Player.Name != "" {
		whose = b.Player.Name
	}
	fmt.Fprintf(w, "limits of %s:\n", whose)
	columns(w, "limit\tms\tfrom", func(row func(...any)) {
		for _, of := range footing.Limits() {
			from := "default"
			if l := measuredLimit(b, of); l != nil {
				from = "measured: " + limitSource(l)
			}
			row(of, math.Round(float64(b.Limit(of).Microseconds())/1000), from)
		}
	})
	shoe := map[string]string{"given": "as given", "kept": "as kept for the next run", "default": "default"}[b.Shoe]
	fmt.Fprintf(w, "shoe %g mm: %s; which panels a foot presses at once: ", b.ShoeMM, shoe)
	if b.Pad == nil {
		fmt.Fprintln(w, "by the model of the foot, not measured")
		return
	}
	fmt.Fprintf(w, "measured on the pad %s\n", b.Pad.Name)
	printReach(w, b.Pad)
}

// printReach prints which pairs each foot was measured to press at once, and which not.
func printReach(w io.Writer, p *profile.Pad) {
	for _, foot := range []pad.Foot{pad.Left, pad.Right} {
		can, cannot := pairsOf(p, foot)
		fmt.Fprintf(w, "  %s at once: %s; not: %s\n", foot, orNothing(can), orNothing(cannot))
	}
}

// limitSource says by what a limit was measured.
func limitSource(l *profile.Limit) string {
	most := ""
	if !l.Reached {
		most = "no more is needed, by "
	}
	return fmt.Sprintf("%s%s at %.1f beats a minute, %d reps", most, l.Drill, l.BPM, l.Reps)
}

// pairsOf gives the pairs that a foot was measured to press at once, and those that it was not.
func pairsOf(p *profile.Pad, foot pad.Foot) (can, cannot []string) {
	l := p.Map.Layout
	for i := range p.Reach {
		r := &p.Reach[i]
		text := fmt.Sprintf("%s&%s %d of %d", l.ID(r.Panels[0]), l.ID(r.Panels[1]), r.Both, r.Tried)
		switch {
		case r.Foot != foot.String():
		case r.Can():
			can = append(can, text)
		default:
			cannot = append(cannot, text)
		}
	}
	return can, cannot
}

func orNothing(texts []string) string {
	if len(texts) == 0 {
		return "none"
	}
	return strings.Join(texts, ", ")
}

// planBody says what of the body was measured. It is beyond the contract's keys, and
// there only where something was.
type planBody struct {
	Player string      `json:"player"`
	Pad    string      `json:"pad"` // whose measured reach speaks; empty: none
	Limits []planLimit `json:"limits"`
}

type planLimit struct {
	Limit    string        `json:"limit"`
	Time     pad.Time      `json:"time_us"`
	Measured *planMeasured `json:"measured"` // nil: a default
}

type planMeasured struct {
	Drill   string  `json:"drill"`
	BPM     float64 `json:"bpm"`
	Reps    int64   `json:"reps"`
	Reached bool    `json:"reached"` // false: no more is needed, less may do
}

func bodyJSON(b *practice.Body) *planBody {
	if b.Measured == 0 && b.Pad == nil {
		return nil
	}
	out := &planBody{Player: b.Player.Name}
	if b.Pad != nil {
		out.Pad = b.Pad.Name
	}
	for _, of := range footing.Limits() {
		l := planLimit{Limit: of.Key(), Time: pad.Time(b.Limit(of).Microseconds())}
		if m := measuredLimit(b, of); m != nil {
			l.Measured = &planMeasured{m.Drill, m.BPM, m.Reps, m.Reached}
		}
		out.Limits = append(out.Limits, l)
	}
	return out
}
