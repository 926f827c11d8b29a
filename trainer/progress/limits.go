package progress

import (
	"cmp"
	"slices"
	"time"

	"heeltoe/trainer/adapt"
	"heeltoe/trainer/estimate"
	"heeltoe/trainer/limits"
	"heeltoe/trainer/recovery"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// WellShare is the share of good reps that counts as playing a drill well.
const WellShare = 0.8

// conditions are what runs must have in common for their tempi to be compared.
type conditions struct {
	player, pad, bar, windows, layout string
	shoeMM                            int64
}

// Limits tells for each set of conditions where the ways of playing break and how long they
// can be kept, those played last first. Runs come in the order in which they were begun; of
// those whose feet nobody read only the number is told.
func Limits(runs []store.Run) []view.Limits {
	type set struct {
		runs   []limits.Run
		unread int
		last   time.Time
	}
	sets := map[conditions]*set{}
	names := newest(runs)
	for i := range runs {
		r := &runs[i]
		k := conditions{r.Player, r.Pad, r.Bar, r.Windows, r.Layout, r.ShoeMM}
		s := sets[k]
		if s == nil {
			s = &set{}
			sets[k] = s
		}
		s.last = r.Started
		if r.Technique == "" {
			s.unread++
			continue
		}
		s.runs = append(s.runs, limits.Run{Way: wayOf(r, names[r.Drill]), Drill: r.Drill, Started: r.Started, BPM: r.BPM, Outcomes: outcomes(r.Outcomes),
			Landings: r.Moments, RepLength: r.RepLength(), Plan: r.Plan, Number: r.Number, WarmUp: r.WarmUp})
	}
	var order []conditions
	for k := range sets {
		order = append(order, k)
	}
	slices.SortFunc(order, func(a, b conditions) int {
		return cmp.Or(sets[b].last.Compare(sets[a].last), cmp.Compare(a.player, b.player), cmp.Compare(a.pad, b.pad), cmp.Compare(a.bar, b.bar),
			cmp.Compare(a.windows, b.windows), cmp.Compare(a.layout, b.layout), cmp.Compare(a.shoeMM, b.shoeMM))
	})
	out := []view.Limits{}
	for _, k := range order {
		l := limits.Of(sets[k].runs, WellShare, nil)
		l.Player, l.Pad, l.Bar, l.ShoeMM, l.Windows, l.Unread = k.player, k.pad, k.bar, k.shoeMM, k.windows, sets[k].unread
		out = append(out, l)
	}
	return out
}

// newest gives the name that each drill has in its newest run.
func newest(runs []store.Run) map[string]string {
	names := map[string]string{}
	for i := range runs {
		names[runs[i].Drill] = runs[i].Name
	}
	return names
}

// wayOf names how a run was played: by the technique that its drill asks for, which its good
// reps have, else by the one that was read.
func wayOf(r *store.Run, name string) string {
	switch {
	case r.Asked != "":
		return name + ", " + r.Asked
	case r.Footing != "":
		return name + ", " + r.Footing
	}
	return name + ", " + r.Technique + " as read"
}

// outcomes reads the outcomes of a run's reps.
func outcomes(letters string) []adapt.Outcome {
	out := make([]adapt.Outcome, len(letters))
	for i, c := range letters {
		switch c {
		case 'g':
			out[i] = adapt.Good
		case 'b':
			out[i] = adapt.Bad
		default:
			out[i] = adapt.Unclear
		}
	}
	return out
}

// Recovery tells what rests do, over runs that are like one another. Two runs have a pause
// between them where no other run that was given came between.
func Recovery(runs []store.Run, loc *time.Location) view.Recovery {
	var bouts [][]recovery.Bout
	days := map[alike][]recovery.Run{}
	var order []alike
	var last alike
	for i := range runs {
		r := &runs[i]
		if r.Started.IsZero() || r.WarmUp {
			continue
		}
		k := alikeOf(r)
		if days[k] == nil {
			order = append(order, k)
		}
		day := recovery.Run{Started: r.Started, SpreadUS: float64(r.ScatterUS)}
		for _, o := range outcomes(r.Outcomes) {
			switch o {
			case adapt.Good:
				day.Good, day.Clear = day.Good+1, day.Clear+1
			case adapt.Bad:
				day.Clear++
			}
		}
		days[k] = append(days[k], day)
		if len(bouts) == 0 || k != last {
			bouts, last = append(bouts, nil), k
		}
		b := recovery.Bout{Started: r.Started, Ended: r.Started, RepSpreadsUS: r.RepScatterUS}
		if r.EndedUS.Defined() {
			b.Ended = r.Started.Add(time.Duration(r.EndedUS) * time.Microsecond)
		}
		bouts[len(bouts)-1] = append(bouts[len(bouts)-1], b)
	}
	var groups [][]recovery.Run
	for _, k := range order {
		groups = append(groups, days[k])
	}
	p, n := recovery.Between(bouts), recovery.Overnight(groups, loc)
	out := view.Recovery{Run: shown(p.Run), Pause: shown(p.Pause), ByRest: []view.Rested{}, Doubling: shown(p.Doubling),
		Night: shown(n.Spread), Good: shown(n.Success), Day: shown(n.Day)}
	if p.Why != nil {
		out.WhyNot = p.Why.Error()
	}
	for _, b := range p.ByRest {
		out.ByRest = append(out.ByRest, view.Rested{From: b.Least.Seconds(), Below: b.Below.Seconds(), Change: shown(b.Change)})
	}
	return out
}

func shown(f estimate.Figure) view.Estimate { return view.EstimateOf(f.Value, f.Low, f.High, f.N) }
