package desk

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
)

// sheet is what is chosen for the next run: a practice.Choice and the settings
// that are kept, changed field by field.
type sheet struct {
	choice  practice.Choice
	kept    profile.Settings // as they are in the file
	now     profile.Settings
	entries []drills.Entry // that the search leaves
	search  string
	typed   map[int]string // text of a field while it is typed, by field
	pads    []string       // that are taught
	drill   *drill.Drill   // as chosen, nil where it cannot be played
	fault   string
}

// field is one thing to choose. step goes n places up or down; typed takes a
// text. Either may be nil.
type field struct {
	name, unit, help string
	value            func(s *sheet) string
	step             func(s *sheet, n int)
	typed            func(s *sheet, text string) error
}

// fieldDrill is the index of the drill among the fields.
const fieldDrill = 0

var sources = []string{"auto", "pad", "keys", "synth"}
var bars = append([]string{""}, profile.Bars...)

// cycle gives the text n places after now in the list, round its end.
func cycle(list []string, now string, n int) string {
	i := max(slices.Index(list, now), 0) + n
	return list[((i%len(list))+len(list))%len(list)]
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

var fields = []field{
	{name: "drill", help: "What is played. Type to search the list; the arrows choose from what is left. A drill file is given on the command line.",
		value: func(s *sheet) string {
			if s.drill != nil {
				return s.drill.Name
			}
			return s.choice.Drill
		},
		step: func(s *sheet, n int) { s.pick(s.chosen() + n) }},
	{name: "mirror", help: "Left and right exchanged: play both sides, and compare them.",
		value: func(s *sheet) string { return yesNo(s.choice.Mirror) },
		step:  func(s *sheet, n int) { s.choice.Mirror = !s.choice.Mirror }},
	{name: "reverse", help: "From the end to the start.",
		value: func(s *sheet) string { return yesNo(s.choice.Reverse) },
		step:  func(s *sheet, n int) { s.choice.Reverse = !s.choice.Reverse }},
	{name: "within a stream", help: "Wrapped in notes that lead in and out, as the pattern is met.",
		value: func(s *sheet) string { return yesNo(s.choice.Within) },
		step:  func(s *sheet, n int) { s.choice.Within = !s.choice.Within }},
	{name: "tempo", unit: "beats/min", help: "Arrows change it by 1, with Shift by 10; or type a figure. How fast a slot is depends on the drill's slots a beat.",
		value: func(s *sheet) string { return strconv.FormatFloat(s.bpm(), 'f', -1, 64) },
		step:  func(s *sheet, n int) { s.setBPM(math.Round(s.bpm()) + float64(n)) },
		typed: func(s *sheet, text string) error {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || !(v >= drill.MinBPM && v <= drill.MaxBPM) {
				return fmt.Errorf("tempo: %q is not a figure from %v to %v", text, drill.MinBPM, drill.MaxBPM)
			}
			s.choice.BPM = v
			return nil
		}},
	{name: "reps", help: "How often the drill is played in a run.",
		value: func(s *sheet) string { return strconv.FormatInt(s.reps(), 10) },
		step:  func(s *sheet, n int) { s.choice.Reps = min(max(s.reps()+int64(n), 1), drill.MaxReps) },
		typed: func(s *sheet, text string) error {
			v, err := strconv.ParseInt(text, 10, 64)
			if err != nil || v < 1 || v > drill.MaxReps {
				return fmt.Errorf("reps: %q is not a whole number from 1 to %d", text, drill.MaxReps)
			}
			s.choice.Reps = v
			return nil
		}},
	{name: "presses from", help: "auto: a taught pad or, where none is plugged in, the keys. keys: this computer's keyboard, exact to a frame of the screen only; many keyboards refuse some chords. synth: the synthetic player shows the drill.",
		value: func(s *sheet) string { return s.choice.Source },
		step:  func(s *sheet, n int) { s.choice.Source = cycle(sources, s.choice.Source, n) }},
	{name: "pad", help: "Which of the taught pads; pads are taught by heeltoe pads teach.",
		value: func(s *sheet) string {
			if s.choice.Pad == "" {
				return "the one used last"
			}
			return s.choice.Pad
		},
		step: func(s *sheet, n int) { s.choice.Pad = cycle(append([]string{""}, s.pads...), s.choice.Pad, n) }},
	{name: "windows", unit: "ms early/late", help: "Bounds of inner, middle and outer, early/late in ms. Arrows make them narrower or wider; or type them, such as 40/50,70/90,105/135.",
		value: func(s *sheet) string {
			if s.choice.Windows == "" {
				w := drill.DefaultWindows
				return practice.WindowsText(&w)
			}
			return s.choice.Windows
		},
		step: func(s *sheet, n int) { s.scaleWindows(n) },
		typed: func(s *sheet, text string) error {
			if _, err := practice.ParseWindows(text); err != nil {
				return err
			}
			s.choice.Windows = text
			return nil
		}},
	{name: "click", help: "Sound of the metronome. The run goes by the clock whether the click sounds or not.",
		value: func(s *sheet) string { return s.choice.Click.Sound },
		step:  func(s *sheet, n int) { s.choice.Click.Sound = cycle(profile.Clicks, s.choice.Click.Sound, n) }},
	{name: "loudness", unit: "dB", help: "Loudness of the click, in dB below the loudest, -60 to 0.",
		value: func(s *sheet) string { return strconv.FormatFloat(s.choice.Click.LoudnessDB, 'f', -1, 64) },
		step: func(s *sheet, n int) {
			s.choice.Click.LoudnessDB = min(max(s.choice.Click.LoudnessDB+float64(n), profile.MinLoudnessDB), 0)
		}},
	{name: "clicks a beat", help: "More than one subdivides the beat. It must divide the drill's slots a beat.",
		value: func(s *sheet) string { return strconv.FormatInt(max(s.choice.Click.Subdivide, 1), 10) },
		step:  func(s *sheet, n int) { s.subdivide(n) }},
	{name: "click falls silent after", unit: "reps", help: "From that rep on the click is silent, to see whether the beat holds without it. 0: it never falls silent.",
		value: func(s *sheet) string { return strconv.FormatInt(s.choice.Click.SilentAfter, 10) },
		step:  func(s *sheet, n int) { s.choice.Click.SilentAfter = max(0, s.choice.Click.SilentAfter+int64(n)) }},
	{name: "shoe", unit: "mm", help: "Length of the outsole. Kept with the run; the planner of footings goes by it.",
		value: func(s *sheet) string { return orNone(s.now.ShoeMM) },
		step: func(s *sheet, n int) {
			if s.now.ShoeMM == 0 {
				s.now.ShoeMM = 300
			}
			s.now.ShoeMM = min(max(s.now.ShoeMM+int64(n), profile.MinShoeMM), profile.MaxShoeMM)
		},
		typed: func(s *sheet, text string) error {
			v, err := strconv.ParseInt(text, 10, 64)
			if err != nil || v < profile.MinShoeMM || v > profile.MaxShoeMM {
				return fmt.Errorf("shoe: %q is not a length from %d to %d mm", text, profile.MinShoeMM, profile.MaxShoeMM)
			}
			s.now.ShoeMM = v
			return nil
		}},
	{name: "hands on the bar", help: "None, one or both. Kept with the run, since it changes how one plays.",
		value: func(s *sheet) string {
			if s.now.Bar == "" {
				return "not said"
			}
			return s.now.Bar
		},
		step: func(s *sheet, n int) { s.now.Bar = cycle(bars, s.now.Bar, n) }},
	{name: "player", help: "Whose run this is: type a name.",
		value: func(s *sheet) string {
			if s.now.Player == "" {
				return "not said"
			}
			return s.now.Player
		},
		typed: func(s *sheet, text string) error {
			t := s.now
			t.Player = text
			if _, err := t.Text(); err != nil {
				return err
			}
			s.now.Player = text
			return nil
		}},
}

func orNone(n int64) string {
	if n == 0 {
		return "not said"
	}
	return strconv.FormatInt(n, 10)
}

// newSheet begins with c; the drill used last where c names none.
func newSheet(c practice.Choice) (*sheet, error) {
	was, now, err := c.Conditions()
	if err != nil {
		return nil, err
	}
	s := &sheet{choice: c, kept: was, now: now, typed: map[int]string{}}
	if s.pads, err = profile.Slugs(); err != nil {
		return nil, err
	}
	s.narrow("")
	if s.choice.Drill == "" && was.Drill != "" {
		s.choice.Drill = was.Drill
		s.load()
	}
	if s.drill == nil && c.Drill == "" {
		s.choice.Drill = s.entries[0].ID
	}
	s.load()
	return s, nil
}

// load loads the drill as it is chosen.
func (s *sheet) load() {
	d, err := s.choice.Load()
	s.drill, s.fault = d, ""
	if err != nil {
		s.drill, s.fault = nil, err.Error()
	}
}

func (s *sheet) bpm() float64 {
	if s.drill == nil {
		return s.choice.BPM
	}
	return s.drill.BPM
}

func (s *sheet) setBPM(bpm float64) {
	s.choice.BPM = min(max(bpm, drill.MinBPM), drill.MaxBPM)
	s.load()
}

func (s *sheet) reps() int64 {
	if s.drill == nil {
		return max(s.choice.Reps, 1)
	}
	return s.drill.Reps
}

// narrow leaves those drills whose id, name, family or purpose has every word of the text.
func (s *sheet) narrow(text string) {
	s.search = text
	s.entries = slices.DeleteFunc(drills.List(), func(e drills.Entry) bool {
		all := strings.ToLower(e.ID + " " + e.Name + " " + e.Family + " " + e.Help + " " + e.Layout)
		for _, w := range strings.Fields(strings.ToLower(text)) {
			if !strings.Contains(all, w) {
				return true
			}
		}
		return false
	})
}

// chosen gives the place of the chosen drill in the list, -1 where it is not there.
func (s *sheet) chosen() int {
	return slices.IndexFunc(s.entries, func(e drills.Entry) bool { return e.ID == s.choice.Drill })
}

// pick chooses the drill at place i, with its own tempo and reps.
func (s *sheet) pick(i int) {
	if len(s.entries) == 0 {
		return
	}
	s.choice.Drill = s.entries[min(max(i, 0), len(s.entries)-1)].ID
	s.choice.BPM, s.choice.Reps = 0, 0
	s.load()
	if s.drill != nil && s.choice.Click.Subdivide > 0 && s.drill.PerBeat%s.choice.Click.Subdivide != 0 {
		s.choice.Click.Subdivide = 1
	}
}

// subdivide goes n places through the numbers of clicks that a beat of the drill can have.
func (s *sheet) subdivide(n int) {
	if s.drill == nil {
		return
	}
	var can []string
	for k := int64(1); k <= s.drill.PerBeat; k++ {
		if s.drill.PerBeat%k == 0 {
			can = append(can, strconv.FormatInt(k, 10))
		}
	}
	s.choice.Click.Subdivide, _ = strconv.ParseInt(cycle(can, strconv.FormatInt(s.choice.Click.Subdivide, 10), n), 10, 64)
}

// scaleWindows makes the windows n tenths of the default ones wider.
func (s *sheet) scaleWindows(n int) {
	w, err := practice.ParseWindows(s.choice.Windows)
	if err != nil || w == nil {
		d := drill.DefaultWindows
		w = &d
	}
	wide := *w
	for i := range wide {
		wide[i].Early += drill.DefaultWindows[i].Early * pad.Time(n) / 10
		wide[i].Late += drill.DefaultWindows[i].Late * pad.Time(n) / 10
	}
	if wide[0].Early >= 0 || wide[0].Late <= 0 || wide.Check() != nil {
		return
	}
	s.choice.Windows = practice.WindowsText(&wide)
	if wide == drill.DefaultWindows {
		s.choice.Windows = ""
	}
}

// step changes field i by n places.
func (s *sheet) step(i, n int) {
	delete(s.typed, i)
	f := &fields[i]
	if f.step == nil {
		return
	}
	f.step(s, n)
	s.load()
}

// write takes a typed rune into field i; erase takes the last one back.
func (s *sheet) write(i int, r rune) {
	if i == fieldDrill {
		s.narrow(s.search + string(r))
		if s.chosen() < 0 {
			s.pick(0)
		}
		return
	}
	if fields[i].typed != nil {
		s.settle(i, s.typed[i]+string(r))
	}
}

func (s *sheet) erase(i int) {
	cut := func(t string) string {
		_, n := utf8.DecodeLastRuneInString(t)
		return t[:len(t)-n]
	}
	if i == fieldDrill {
		s.narrow(cut(s.search))
		return
	}
	if fields[i].typed != nil {
		t, ok := s.typed[i]
		if !ok {
			t = fields[i].value(s)
		}
		s.settle(i, cut(t))
	}
}

// settle takes the text of field i; one that is not whole yet stays, with its fault.
func (s *sheet) settle(i int, text string) {
	s.typed[i] = text
	err := fields[i].typed(s, text)
	s.load()
	if err != nil {
		s.fault = err.Error()
	}
}

// leave ends the typing in field i: what is no value is dropped.
func (s *sheet) leave(i int) {
	if _, ok := s.typed[i]; ok {
		delete(s.typed, i)
		s.load()
	}
}
