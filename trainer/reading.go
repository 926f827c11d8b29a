package trainer

import (
	"math"
	"slices"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/footing/read"
	"heeltoe/judge/drill"
	"heeltoe/trainer/standing"
	"heeltoe/trainer/view"
)

// read reads the run's feet and puts into the report what they did.
func (r *Run) read(rep *view.Report) {
	rep.Landings = []view.Landing{}
	asked := r.drill.Technique
	if asked == "" && r.drill.Footing != nil {
		asked = footing.Technique(r.drill, r.drill.Footing)
	}
	rep.Run = view.Technique{Technique: read.Unclear, P: view.Undefined, Asked: view.Word(asked)}
	if !r.Whole() {
		rep.Warnings = append(rep.Warnings, "the run was too long for its feet to be read from memory: a review of its log reads them")
		return
	}
	reader, err := read.New(r.drill, r.windows)
	if err != nil {
		// The planner refuses no drill and no windows that were checked.
		rep.Warnings = append(rep.Warnings, "the feet cannot be read: "+err.Error())
		return
	}
	reader.Suit(r.own)
	got := reader.Read(r.played())
	rep.Run.Technique, rep.Run.P = got.Technique, chance(got.P)
	for k := range got.Reps {
		g, v := &got.Reps[k], &rep.Reps[k]
		v.Technique, v.P = g.Technique, chance(g.P)
		v.Chances = make(map[string]view.Number)
		for i, p := range g.Chances {
			if p >= 1e-3 {
				v.Chances[read.Labels[i]] = chance(p)
			}
		}
		if v.Outcome = outcome(v, asked); v.Outcome == view.Good {
			rep.Run.Good++
		}
		notes := rep.Notes[k*r.notes : (k+1)*r.notes]
		for i := range g.Notes {
			n := &g.Notes[i]
			if notes[i].Press.Defined() && n.Pressed && g.Contacts != nil {
				notes[i].Foot, notes[i].Contact, notes[i].P = view.Word(n.Foot.String()), view.Word(n.Kind.String()), chance(n.P)
			}
		}
		rep.Landings = r.landings(rep.Landings, reader, g, notes)
	}
	rep.Standing = standing.Of(rep, r.drill.Layout)
}

// Learn gives the player's own parameters as the reps of the run that have labels tell
// them, and of how many reps they are. Call it after Finish.
func (r *Run) Learn(labels []string) (own read.Own, reps int, err error) {
	reader, err := read.New(r.drill, r.windows)
	if err != nil {
		return nil, 0, err
	}
	own, reps = reader.Learn(r.played(), labels)
	return own, reps, nil
}

// played gives what is read of the run.
func (r *Run) played() *read.Run {
	return &read.Run{Lead: r.grid.Lead(), Shift: r.shift, Reps: int(r.drill.Reps), Presses: r.presses.Presses()}
}

// chance gives a probability in millionths: finer figures would say nothing.
func chance(p float64) view.Number { return view.Number(math.Round(p*1e6) / 1e6) }

// outcome tells how a rep went, where a technique was asked for or none.
func outcome(v *view.Rep, asked string) view.Outcome {
	switch {
	case v.Inner+v.Middle < v.Notes || v.Stray > 0:
		return view.Bad
	case asked == "" || v.Technique == asked:
		return view.Good
	case v.Technique == read.Unclear:
		return view.Unclear
	}
	return view.Bad
}

// landings appends the landings of a rep; notes are the rep's.
func (r *Run) landings(of []view.Landing, reader *read.Reader, g *read.Rep, notes []view.Note) []view.Landing {
	for i := 0; i < len(g.Contacts); {
		j := i + 1
		for j < len(g.Contacts) && g.Contacts[j].Landing == g.Contacts[i].Landing {
			j++
		}
		contacts := g.Contacts[i:j]
		l := view.Landing{Rep: notes[0].Rep, Centre: view.Moment(pad.Never), Offset: view.Moment(pad.Never), Spread: view.Moment(pad.Never),
			Missed: []int{}, Aim: view.Moment(reader.Aim(notes[0].Rep, r.grid, contacts))}
		first, last := view.Moment(math.MaxInt64), view.Moment(math.MinInt64)
		for c := range contacts {
			l.Contacts = append(l.Contacts, r.contact(&contacts[c], notes))
			for _, n := range contacts[c].NoteIndices() {
				l.Notes = append(l.Notes, int(n))
				if note := &notes[n]; note.Press.Defined() {
					at := note.Due + note.Offset
					first, last = min(first, at), max(last, at)
				} else {
					l.Missed = append(l.Missed, int(n))
				}
			}
		}
		slices.Sort(l.Notes)
		slices.Sort(l.Missed)
		if first <= last {
			l.Centre, l.Spread = first+(last-first)/2, last-first
			l.Offset = l.Centre - l.Aim
		}
		if r.drill.Footing != nil {
			has := hasLanding(r.drill.Footing, contacts)
			l.Asked = &has
		}
		of = append(of, l)
		i = j
	}
	return of
}

// contact gives a contact of a rep with the panel of a bracket that came first.
func (r *Run) contact(c *drill.Contact, notes []view.Note) view.Contact {
	v := view.Contact{Foot: c.Foot.String(), Kind: c.Kind.String()}
	for _, n := range c.NoteIndices() {
		v.Notes = append(v.Notes, int(n))
	}
	if c.Kind == drill.Bracket {
		a, b := &notes[c.Notes[0]], &notes[c.Notes[1]]
		switch {
		case !a.Press.Defined() || !b.Press.Defined() || a.Press == b.Press:
		case a.Press < b.Press:
			v.First = view.Word(a.Panel)
		default:
			v.First = view.Word(b.Panel)
		}
	}
	return v
}

// hasLanding tells whether a footing has a landing of these contacts, whichever
// feet make them.
func hasLanding(footing, contacts []drill.Contact) bool {
	for i := 0; i < len(footing); {
		j := i + 1
		for j < len(footing) && footing[j].Landing == footing[i].Landing {
			j++
		}
		if j-i == len(contacts) && !slices.ContainsFunc(contacts, func(c drill.Contact) bool {
			return !slices.ContainsFunc(footing[i:j], func(o drill.Contact) bool { return sameContact(&c, &o) })
		}) {
			return true
		}
		i = j
	}
	return false
}

// sameContact tells whether two contacts play the same notes in the same way.
func sameContact(a, b *drill.Contact) bool {
	if a.Kind != b.Kind {
		return false
	}
	x, y := a.NoteIndices(), b.NoteIndices()
	return slices.Equal(x, y) || a.Kind == drill.Bracket && x[0] == y[1] && x[1] == y[0]
}
