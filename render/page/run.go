package page

import (
	"fmt"
	"slices"
	"strings"

	"heeltoe/trainer/view"
)

// run gives the section of a run.
func (d *document) run(r *view.Played) section {
	rep := r.Report
	s := section{Title: when(r.Started)}
	s.Lead = append(s.Lead, fmt.Sprintf("%s: layout %s, %g beats a minute, %d slots a beat, %d reps.", rep.Drill, rep.Layout, rep.BPM, rep.PerBeat, len(rep.Reps)),
		conditions(r.Player, r.Pad, r.Bar, r.ShoeMM))
	if r.Footing != "" {
		s.Lead = append(s.Lead, "Footing to practise: "+r.Footing)
	}
	if n := len(rep.Reps); rep.Summary.RepsBegun < n {
		s.Lead = append(s.Lead, fmt.Sprintf("The log ends in rep %d of %d; notes after it count as absent.", rep.Summary.RepsBegun, n))
	}
	for _, w := range rep.Warnings {
		s.Lead = append(s.Lead, "Warning: "+w)
	}
	if f := rep.Setting.Fineness; f > 0 {
		s.Lead = append(s.Lead, upper(f.String())+". Such figures are grey, in brackets.")
	}
	s.Facts = facts(r)
	strip, note := strip(r)
	f := figure{Wide: true, Feet: true, Notes: []string{"Grey behind: the windows, the inner one strongest; an upright line: the due moment."}}
	if note != "" {
		f.Notes = append(f.Notes, note)
	}
	d.add(&s, strip, f)
	d.add(&s, reps(r), figure{Notes: []string{"A bar spans half of a rep's presses, a tick is its median; bands and lines are the windows."}})
	d.add(&s, panelChart(r), figure{Notes: []string{"A bar spans half of a panel's presses, the tick is their median; n in brackets."}})
	st := r.Report.Statistics
	if len(st.Overlaps) > 0 {
		f := figure{Notes: []string{"How long the first panel was still down when the next came down; left of 0 neither was, which is no proof of flight: feet may stand on dead cells. What is further than 300 ms is drawn at the edge."}}
		if n := len(st.Overlaps); n > mostRows {
			f.Notes = append(f.Notes, fmt.Sprintf("The first %d of %d steps; the table has all.", mostRows, n))
		}
		d.add(&s, overlapChart(r), f)
	}
	d.add(&s, techniqueChart(r), figure{Notes: []string{techniqueNote(r)}})
	g := fine(rep.Setting.Fineness)
	s.Tables = []table{repTable(r), panelTable(r), techniqueTable(st, g), landingTable(r), missedTable(r), contactTable(st, g), overlapTable(r), driftTable(&st.Drift)}
	return s
}

func techniqueNote(r *view.Played) string {
	note := "A bar is as high as the reading is probable. The pad reports panels, not feet: what the feet did is inferred."
	if r.Asked != "" {
		note += " * is the technique to be practised."
	}
	return note
}

// facts gives the figures of a run: always the same ones in the same order.
func facts(r *view.Played) []fact {
	sum, t := &r.Report.Summary, &r.Report.Run
	matched := sum.Notes - sum.Absent
	st := r.Report.Statistics
	run := &st.Run
	tech := fmt.Sprintf("%s, p %.2f", t.Technique, float64(t.P))
	if !t.P.Defined() {
		tech = t.Technique
	}
	means := fmt.Sprintf("%d of %d reps good", t.Good, len(r.Report.Reps))
	if r.Asked != "" {
		means = "To be practised: " + r.Asked + ". " + means
	}
	spread, spreadSure := spreadFrom(&st.Source)
	all := []fact{
		{"Notes hit", fmt.Sprintf("%d of %d", matched, sum.Notes), "(" + share(matched, sum.Notes) + ")",
			fmt.Sprintf("Inner %d, middle %d, outer %d, absent %d; stray presses %d", sum.Inner, sum.Middle, sum.Outer, sum.Absent, sum.Stray)},
		{"Inner", share(sum.Inner, sum.Notes), fmt.Sprintf("(n %d notes)", sum.Notes), "Share of the notes that were in the innermost window"},
		estimated(factMedian, run.Median, "ms", tenth, "presses", "Below 0 is early"),
		estimated(factMean, run.Mean, "ms", tenth, "presses", "Slips pull at it more than at the median"),
		estimated(factMAD, run.MAD, "ms", plain, "presses", "Half of the notes hit lay so near to their median"),
		estimated(factSD, run.SD, "ms", plain, "presses", "Slips count more than in the mad"),
		estimated("Early", run.Early, "%", percent, "presses", "Share that came before its due moment"),
		estimated("Late", run.Late, "%", percent, "presses", "Share that came after its due moment"),
		estimated("Steadiness", run.Steadiness, "%", percent, "presses", "Share of the notes hit that would be inner after one shift of them all"),
		estimated("Best shift", run.BestShift, "ms", tenth, "presses", shiftWords(sum)),
		{"Technique", tech, "", means},
		{"Over the run", drift(&st.Drift), "", driftMeans(&st.Drift)},
		{"Where the spread comes from", spread, spreadSure, "Inner clock and the delay from clock to foot, by the phase-correction model where the click sounded"},
	}
	f := r.Report.Setting.Fineness
	for i := range all {
		switch k := &all[i]; k.Name {
		case factMedian:
			k.hide(f.HidesMean(float64(run.Median.Value)))
		case factMean:
			k.hide(f.HidesMean(float64(run.Mean.Value)))
		case factMAD:
			k.hide(f.HidesMAD(float64(run.MAD.Value)))
		case factSD:
			k.hide(f.HidesSD(float64(run.SD.Value)))
		}
	}
	return all
}

// Names of the facts that a pad may be too coarse for.
const (
	factMedian = "Median offset"
	factMean   = "Mean offset"
	factMAD    = "Spread (mad)"
	factSD     = "Standard deviation"
)

func shiftWords(s *view.Summary) string {
	switch {
	case !s.BestShift.Defined():
		return "Share of the notes hit that would be inner after one shift of them all"
	case s.BestShift > 0:
		return fmt.Sprintf("Would be inner if every press came %s ms later", plain(s.BestShift))
	case s.BestShift < 0:
		return fmt.Sprintf("Would be inner if every press came %s ms earlier", plain(-s.BestShift))
	}
	return "Inner as they are: no shift would help"
}

func drift(d *view.Drift) string {
	if d.Offset.N == 0 || !d.Offset.Slope.Defined() {
		return none
	}
	return fmt.Sprintf("median %s, sd %s ms a rep", hundredth(d.Offset.Slope), hundredth(d.Spread.Slope))
}

func driftMeans(d *view.Drift) string {
	if d.WhyNot != "" && (d.Offset.N == 0 || !d.Offset.Slope.Defined()) {
		return "Cannot be told: " + d.WhyNot
	}
	text := fmt.Sprintf("Slopes of Theil and Sen, probably %s and %s (n %d reps)", between(d.Offset.Range.Low, d.Offset.Range.High, hundredth),
		between(d.Spread.Range.Low, d.Spread.Range.High, hundredth), d.Offset.N)
	if d.Tiring {
		text += ". The spread rose or fewer notes were inner, as happens with tired feet: rest, and stop if it goes on. Never push through pain."
	}
	return text
}

// spreadFrom gives the parts of the spread, and how sure they are.
func spreadFrom(s *view.Source) (parts, sure string) {
	c := &s.WithClick
	if c.WhyNot != "" {
		return none, "(cannot be told: " + c.WhyNot + ")"
	}
	if c.N == 0 {
		return none, ""
	}
	return fmt.Sprintf("clock %s, foot %s", with(plain(c.Clock), "ms"), with(plain(c.Motor), "ms")),
		fmt.Sprintf("(%s and %s, n %d presses)", between(c.ClockRange.Low, c.ClockRange.High, plain), between(c.MotorRange.Low, c.MotorRange.High, plain), c.N)
}

func repTable(r *view.Played) table {
	t := table{Title: "Rep by rep", Head: strings.Split("rep,technique,p,outcome,inner,middle,outer,absent,stray,quartiles ms", ",")}
	g := fine(r.Report.Setting.Fineness)
	sure := r.Report.Statistics.Reps // of a run of very many there are none
	if len(sure) > 0 {
		t.Head = append(t.Head, strings.Split(figureHead, ",")...)
	} else {
		t.Head = append(t.Head, "median ms", "sd ms")
	}
	for i := range r.Report.Reps {
		k := &r.Report.Reps[i]
		p := none
		if k.P.Defined() {
			p = fmt.Sprintf("%.2f", float64(k.P))
		}
		row := []string{fmt.Sprint(k.Rep + 1), k.Technique, p, string(k.Outcome), fmt.Sprint(k.Inner), fmt.Sprint(k.Middle), fmt.Sprint(k.Outer), fmt.Sprint(k.Absent), fmt.Sprint(k.Stray),
			between(k.Quartiles[0], k.Quartiles[1], tenth)}
		if len(sure) > 0 {
			row = append(row, figureCells(&sure[i], g)...)
		} else {
			row = append(row, g.offset(k.Offset.Median), g.sd(k.Offset.SD))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// cells writes an estimate as two cells: the value, and its interval.
func cells(e view.Estimate, write func(view.Number) string) []string {
	return valued(e, write, write)
}

// valued is cells where the value is written in a way of its own.
func valued(e view.Estimate, value, write func(view.Number) string) []string {
	return []string{value(e.Value), between(e.Low, e.High, write)}
}

// figureHead heads the columns that figureCells fills.
const figureHead = "median ms,interval,mean ms,interval,sd ms,interval,mad ms,interval,early %,interval,late %,interval,steady %,interval,best shift ms,interval,n"

func figureCells(f *view.Figures, g fine) []string {
	return slices.Concat(valued(f.Median, g.offset, tenth), valued(f.Mean, g.offset, tenth), valued(f.SD, g.sd, plain), valued(f.MAD, g.mad, plain), cells(f.Early, percent), cells(f.Late, percent),
		cells(f.Steadiness, percent), cells(f.BestShift, tenth), []string{fmt.Sprint(f.N)})
}

// timesHead heads the columns that timesCells fills.
const timesHead = "median ms,interval,mean ms,interval,sd ms,interval,mad ms,interval,n"

// timesCells writes times; value is how the median and the mean are written, write their intervals.
func timesCells(t *view.Times, value, write func(view.Number) string, g fine) []string {
	return slices.Concat(valued(t.Median, value, write), valued(t.Mean, value, write), valued(t.SD, g.sd, plain), valued(t.MAD, g.mad, plain), []string{fmt.Sprint(t.N)})
}

func panelTable(r *view.Played) table {
	t := table{Title: "Panel by panel", Head: strings.Split("panel,notes,inner,middle,outer,absent,stray,"+figureHead, ",")}
	for i := range r.Report.Panels {
		k := &r.Report.Panels[i]
		row := []string{k.Panel, fmt.Sprint(k.Notes), fmt.Sprint(k.Inner), fmt.Sprint(k.Middle), fmt.Sprint(k.Outer), fmt.Sprint(k.Absent), fmt.Sprint(k.Stray)}
		t.Rows = append(t.Rows, append(row, figureCells(&r.Report.Statistics.Panels[i].Figures, fine(r.Report.Setting.Fineness))...))
	}
	return t
}

func techniqueTable(st *view.Statistics, g fine) table {
	t := table{Title: "Technique by technique", Head: strings.Split("read as,reps,"+figureHead, ",")}
	for i := range st.Techniques {
		k := &st.Techniques[i]
		t.Rows = append(t.Rows, append([]string{k.Technique, fmt.Sprint(k.Reps)}, figureCells(&k.Figures, g)...))
	}
	return t
}

func landingTable(r *view.Played) table {
	t := table{Title: "Landing by landing", Head: strings.Split("notes,contacts,figure,"+timesHead, ",")}
	g := fine(r.Report.Setting.Fineness)
	for i := range r.Report.Statistics.Landings {
		k := &r.Report.Statistics.Landings[i]
		name := []string{landingName(r, k), strings.Join(k.Kinds, ", ")}
		t.Rows = append(t.Rows, slices.Concat(name, []string{"offset from the aim"}, timesCells(&k.Offset, g.offset, tenth, g)))
		if len(k.Notes) > 1 {
			t.Rows = append(t.Rows, slices.Concat(name, []string{"spread, first press to last"}, timesCells(&k.Spread, g.apart(plain), plain, g)))
		}
	}
	return t
}

// missedTable has how often each landing was played but in part.
func missedTable(r *view.Played) table {
	t := table{Title: "Landings with a note missed", Head: strings.Split("notes,contacts,missed %,interval,n", ",")}
	for i := range r.Report.Statistics.Landings {
		k := &r.Report.Statistics.Landings[i]
		t.Rows = append(t.Rows, slices.Concat([]string{landingName(r, k), strings.Join(k.Kinds, ", ")}, cells(k.Half, percent), []string{fmt.Sprint(k.Half.N)}))
	}
	return t
}

func landingName(r *view.Played, k *view.LandingTimes) string {
	var notes []string
	for _, n := range k.Notes {
		notes = append(notes, fmt.Sprintf("%d %s", n+1, r.Layout.ID(r.Notes[n].Panel)))
	}
	return strings.Join(notes, ", ")
}

// contactTable has how long presses last, by panel and by kind of contact, and how the
// two presses of a bracket or a roll follow each other.
func contactTable(st *view.Statistics, g fine) table {
	t := table{Title: "Dwell, brackets and rolls", Head: strings.Split("of,figure,"+timesHead, ",")}
	row := func(of, what string, times *view.Times, value, write func(view.Number) string) {
		t.Rows = append(t.Rows, append([]string{of, what}, timesCells(times, value, write, g)...))
	}
	for i := range st.Panels {
		row(st.Panels[i].Panel, "dwell", &st.Panels[i].Dwell, g.apart(plain), plain)
	}
	for i := range st.Contacts {
		k := &st.Contacts[i]
		row(k.Kind, "dwell", &k.Dwell, g.apart(plain), plain)
		if k.Between.N > 0 {
			row(k.Kind, "first press to second", &k.Between, g.apart(plain), plain)
			row(k.Kind, "evenness: that less the time due", &k.Uneven, g.offset, tenth)
		}
	}
	return t
}

func overlapTable(r *view.Played) table {
	t := table{Title: "Overlaps from note to note", Head: strings.Split("step,"+timesHead, ",")}
	g := fine(r.Report.Setting.Fineness)
	for i := range r.Report.Statistics.Overlaps {
		o := &r.Report.Statistics.Overlaps[i]
		t.Rows = append(t.Rows, append([]string{stepName(r, o)}, timesCells(&o.Time, g.apart(tenth), tenth, g)...))
	}
	return t
}

func driftTable(d *view.Drift) table {
	t := table{Title: "Over the run", Head: strings.Split("figure of each rep,change a rep,interval,p,new level from rep,n reps", ",")}
	for _, k := range []struct {
		name  string
		c     *view.Course
		write func(view.Number) string
	}{{"median offset, ms", &d.Offset, hundredth}, {"standard deviation, ms", &d.Spread, hundredth}, {"inner notes, percentage points", &d.Inner, points},
		{"dwell, ms", &d.Dwell, hundredth}, {"panel-free time, ms", &d.Free, hundredth}} {
		p, change := none, none
		if k.c.P.Defined() {
			p = fmt.Sprintf("%.3f", float64(k.c.P))
		}
		if k.c.Change != nil {
			change = fmt.Sprint(*k.c.Change + 1)
		}
		t.Rows = append(t.Rows, []string{k.name, k.write(k.c.Slope), between(k.c.Range.Low, k.c.Range.High, k.write), p, change, fmt.Sprint(k.c.N)})
	}
	return t
}
