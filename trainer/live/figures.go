package live

import (
	"heeltoe/footing/pad"
	"heeltoe/trainer/view"
)

// Scope says what figures were summed up over.
type Scope uint8

// Scopes.
const (
	LastRep  Scope = iota // the rep that was over last; steadiness over the last 24
	WholeRun              // all of a run
)

// Summed is what figures are made of.
type Summed struct {
	Scope
	view.Counts
	Offset     view.Offsets // µs
	Steadiness view.Number  // per cent
	Rep, Reps  int64        // reps that are over, of how many
	BPM        float64
	Fineness   pad.Fineness // of the pad; 0: not known
}

// Figures puts the figures of s on the screen.
func Figures(v *view.Live, s *Summed) {
	of := ", last rep"
	if s.Scope == WholeRun {
		of = ", whole run"
	}
	ms := func(us view.Number) view.Number { return us / 1000 }
	n := func(i int) view.Number { return view.Number(i) }
	none := view.Undefined
	grey := func(faint bool) string {
		if faint {
			return " Grey: finer than the pad can tell. It says little: " + s.Fineness.String() + "."
		}
		return ""
	}
	noOffset, noSpread := s.Fineness.HidesMean(float64(s.Offset.Median)), s.Fineness.HidesSD(float64(s.Offset.SD))
	v.Figures = append(v.Figures[:0],
		view.Figure{Name: "offset" + of, Unit: "ms", Value: ms(s.Offset.Median), Of: none, Decimals: 1, Signed: true, Main: true, Faint: noOffset,
			Help: "Median of press minus due moment: half of the presses came earlier, half later. Negative is early, positive is late. A change of the pad's shift moves it." + grey(noOffset)},
		view.Figure{Name: "spread" + of, Unit: "ms", Value: ms(s.Offset.SD), Of: none, Decimals: 1, Main: true, Faint: noSpread,
			Help: "Standard deviation of the offsets: how much they vary about their mean. Smaller is more even." + grey(noSpread)},
		view.Figure{Name: "inner" + of, Unit: "notes", Value: n(s.Inner), Of: n(s.Notes), Main: true,
			Help: "Notes that were pressed within the inner window, of all notes that were due."},
		view.Figure{Name: "rep", Unit: "reps", Value: view.Number(s.Rep), Of: view.Number(s.Reps), Main: true,
			Help: "Reps that are over, of those to be played. A rep is one pass through the drill."},
		view.Figure{Name: "tempo", Unit: "beats/min", Value: view.Number(s.BPM), Of: none, Decimals: 1,
			Help: "Tempo of the drill."},
		view.Figure{Name: "steadiness", Unit: "%", Value: s.Steadiness, Of: none, Decimals: 1,
			Help: "Share of the matched notes that would be inner if one shift were added to every press. It tells how even the timing is, wherever its middle lies. While playing, of the last 24 reps."},
		view.Figure{Name: "middle" + of, Unit: "notes", Value: n(s.Middle), Of: none,
			Help: "Notes pressed outside the inner window but within the middle one."},
		view.Figure{Name: "outer" + of, Unit: "notes", Value: n(s.Outer), Of: none,
			Help: "Notes pressed outside the middle window but within the outer one."},
		view.Figure{Name: "absent" + of, Unit: "notes", Value: n(s.Absent), Of: none,
			Help: "Notes that were due and got no press within the outer window."},
		view.Figure{Name: "stray" + of, Unit: "presses", Value: n(s.Stray), Of: none,
			Help: "Presses that belong to no note."},
	)
}

// NoFigures puts the figures on the screen before there are any, but for the
// tempo, the reps and the technique that is wanted.
func NoFigures(v *view.Live, over, planned int64, bpm float64, want string) {
	Figures(v, &Summed{Rep: over, Reps: planned, BPM: bpm})
	putRead(v, readFigures("", want, 0))
	for i := range v.Figures {
		if f := &v.Figures[i]; f.Name != "rep" && f.Name != "tempo" && f.Name != readName && f.Name != askedName {
			f.Value, f.Of = view.Undefined, view.Undefined
		}
	}
}

// FiguresOf puts the figures of a whole run on the screen, of which so many
// reps of so many are over.
func FiguresOf(v *view.Live, r *view.Report, over, planned int64) {
	s := &r.Summary
	Figures(v, &Summed{Scope: WholeRun, Counts: s.Counts, Offset: s.Offset, Steadiness: 100 * s.Steadiness,
		Rep: over, Reps: planned, BPM: r.BPM, Fineness: r.Setting.Fineness})
	putRead(v, readFigures(r.Run.Technique, string(r.Run.Asked), float64(r.Run.P)))
}
