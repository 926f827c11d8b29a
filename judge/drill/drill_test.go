package drill_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// contract is the example of the format's description.
const contract = `name = "corner hook"
layout = "single"
bpm = 130.0             # 10 to 1000
per_beat = 4            # slots in a beat, 1 to 48
reps = 16               # 1 to 100,000; at most a million notes in all
count_in_beats = 4      # clicks before the first note
rest_beats = 0          # silent beats between two reps
steps = "se ne c sw . nw . ."
technique = "roll"      # to practise; optional
footing = "R:se>ne L:c R:sw L:nw"   # to practise, contact by contact; optional
`

func parse(t testing.TB, text string) *drill.Drill {
	t.Helper()
	d, err := drill.Parse("x.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestContractExample(t *testing.T) {
	d := parse(t, contract)
	if d.Slots != 8 || d.CountIn() != 4 || d.RepSlots() != 8 || d.Total() != 80 {
		t.Errorf("slots %d, count-in %d, rep %d, total %d", d.Slots, d.CountIn(), d.RepSlots(), d.Total())
	}
	var got []string
	for _, n := range d.Notes {
		got = append(got, fmt.Sprintf("%d%s", n.Slot, d.Layout.ID(n.Panel)))
	}
	if want := "0se 1ne 2c 3sw 5nw"; strings.Join(got, " ") != want {
		t.Errorf("notes %v, want %s", got, want)
	}
	// 60e6/(130 × 4) µs a slot, by hand: 115384.615…; rep 1 begins at slot 8.
	g := d.Grid(2_000_000)
	for _, c := range []struct {
		rep, slot int64
		want      pad.Time
	}{{0, 0, 2_000_000}, {0, 1, 2_115_385}, {0, 2, 2_230_769}, {0, 3, 2_346_154}, {0, 5, 2_576_923}, {1, 0, 2_923_077}, {15, 5, 16_423_077}} {
		if got := g.Due(c.rep, c.slot); got != c.want {
			t.Errorf("rep %d slot %d is due at %d, want %d", c.rep, c.slot, got, c.want)
		}
	}
	if got := drill.FootingText(d, d.Footing); got != d.Spec.Footing {
		t.Errorf("footing written %q", got)
	}
	if c := d.Footing[0]; c.Kind != drill.Roll || c.Foot != pad.Right || c.Notes != [2]int32{0, 1} || c.Landing != 0 {
		t.Errorf("first contact %+v", c)
	}
	if c := d.Footing[3]; c.Kind != drill.Step || c.Foot != pad.Left || c.Notes[0] != 4 || c.Landing != 3 {
		t.Errorf("last contact %+v", c)
	}
}

// with gives the contract's example with the line of a key replaced.
func with(line string) string {
	key, _, _ := strings.Cut(line, " ")
	lines := strings.SplitAfter(contract, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, key+" ") {
			lines[i] = line + "\n"
			return strings.Join(lines, "")
		}
	}
	return contract + line + "\n"
}

// Lines of the example: 1 name, 2 layout, 3 bpm, 4 per_beat, 5 reps,
// 6 count_in_beats, 7 rest_beats, 8 steps, 9 technique, 10 footing.
func TestFaultsNameTheirPlace(t *testing.T) {
	short := "name = 'a'\nlayout = 'single'\nbpm = 100\nper_beat = 1\nreps = 2\n"
	for _, c := range []struct {
		text, place, says string
	}{
		{with(`name = ""`), "1:8", "name"},
		{with(`name = "   "`), "1:8", "name"},
		{with(`name = "a\u0007b"`), "1:8", "control"},
		{with(`name = "` + strings.Repeat("x", drill.MaxNameBytes+1) + `"`), "1:8", "200"},
		{with(`name = 1`), "1:8", "integer"},
		{with(`name = "a" b`), "1:12", ""},
		{with(`name = "a`), "1:10", ""},
		{with(`layout = "triple"`), "2:10", `"triple"`},
		{with(`bpm = 9.999`), "3:7", "10"},
		{with(`bpm = 1000.001`), "3:7", "1000"},
		{with(`bpm = nan`), "3:7", "NaN"},
		{with(`bpm = inf`), "3:7", "Inf"},
		{with(`bpm = -inf`), "3:7", "Inf"},
		{with(`bpm = -130`), "3:7", "-130"},
		{with(`bpm = "130"`), "3:7", "string"},
		{with(`bpm = 1e400`), "3:7", ""},
		{with(`bpm = 1979-05-27`), "3:7", "date"},
		{with(`per_beat = 0`), "4:12", "48"},
		{with(`per_beat = 49`), "4:12", "48"},
		{with(`per_beat = 4.0`), "4:12", "float"},
		{with(`reps = 0`), "5:8", "100000"},
		{with(`reps = 100001`), "5:8", "100000"},
		{with(`reps = 9223372036854775808`), "5:8", ""},
		{with(`count_in_beats = -1`), "6:18", "1000"},
		{with(`count_in_beats = 1001`), "6:18", "1000"},
		{with(`rest_beats = -1`), "7:14", "1000"},
		{with(`rest_beats = 1001`), "7:14", "1000"},
		{with(`rest_beats = {a = 1}`), "7:15", "table"},
		{with(`steps = ""`), "8:9", "no note"},
		{with(`steps = ". | . |"`), "8:9", "no note"},
		{with(`steps = "se ne cc sw"`), "8:16", `"cc"`},
		{with(`steps = "se SE"`), "8:13", `"SE"`},
		{with(`steps = "se 1se"`), "8:13", `"1se"`},
		{with(`steps = "se nw+nw"`), "8:16", "twice"},
		{with(`steps = "se nw+"`), "8:16", `""`},
		{with(`steps = "se nw=0"`), "8:16", "1 or more"},
		{with(`steps = "se nw="`), "8:16", "1 or more"},
		{with(`steps = "se nw=-1"`), "8:16", "1 or more"},
		{with(`steps = "se nw=1.5"`), "8:16", "1 or more"},
		{with(`steps = "se nw=2147483648"`), "8:16", "1 or more"},
		{with(`steps = "se nw=1=1"`), "8:16", "1 or more"},
		{with(`steps = "se .. nw"`), "8:13", `".."`},
		{with("steps = '''\nse ne\n  c zz'''"), "10:5", `"zz"`},
		{with(`technique = "glide"`), "9:13", `"glide"`},
		{with(`footing = "R:se>ne L:c R:sw"`), "10:28", "note 4"},
		{with(`footing = "R:se>ne L:c R:sw L:nw L:nw"`), "10:36", "nw"},
		{with(`footing = "R:se>ne L:c R:sw X:nw"`), "10:29", `"X:nw"`},
		{with(`footing = "R:se>ne L:c R:sw L:n"`), "10:31", `"n"`},
		{with(`footing = "R:ne>se L:c R:sw L:nw"`), "10:12", "before"},
		{with(`footing = "L:c R:se>ne R:sw L:nw"`), "10:16", "due order"},
		{with(`footing = "R:se>ne (L:c (R:sw) L:nw)"`), "10:25", "within"},
		{with(`footing = "R:se>ne () L:c R:sw L:nw"`), "10:21", "closes"},
		{with(`footing = "R:se>ne ) L:c R:sw L:nw"`), "10:20", "closes"},
		{with(`footing = "R:se>ne L:c R:sw (L:nw"`), "10:34", "missing"},
		{with(`footing = "R:se>ne (L:c L:sw) L:nw"`), "10:25", "twice"},
		{short + "steps = 'c c'\nfooting = 'L:c&c'", "7:16", "twice"},
		{short + "steps = 'c c'\nfooting = 'L:c>c'", "7:16", "twice"},
		{short + "steps = 'c c'\nfooting = '(L:c R:c)'", "7:19", "twice"},
		{short + "steps = 'nw=3 c'", "6:10", "next rep"},
		{short + "steps = 'nw=2 nw'", "6:15", "held"},
		{short, "1:1", `"steps" is missing`},
		{"", "1:1", `"name" is missing`},
		{short + "steps = 'c'\nSteps = 'c'", "7:1", `"Steps"`},
		{short + "steps = 'c'\nsteps = 'c'", "7:1", ""},
		{short + "steps = 'c'\ntempo = 1", "7:1", `"tempo"`},
		{short + "steps = 'c'\n[more]\nx = 1", "7:2", `"more"`},
		{short + "steps.x = 'c'", "6:1", ""},
		{short + "steps = ['c']", "6:1", ""},
		{short + "steps = 'c'\n\x00", "7:1", ""},
		{short + "steps = '\xff'", "6:10", ""},
	} {
		d, err := drill.Parse("x.toml", []byte(c.text))
		var bad *pad.BadInput
		if !errors.As(err, &bad) {
			t.Errorf("%s: %v, %v", c.text, d, err)
			continue
		}
		if at := fmt.Sprintf("%d:%d", max(bad.Line, 1), max(bad.Col, 1)); at != c.place || !strings.Contains(bad.Msg, c.says) {
			t.Errorf("%s\n  gives %v\n  want %s … %s", c.text[max(0, len(c.text)-100):], err, c.place, c.says)
		}
		if !strings.HasPrefix(err.Error(), "x.toml:"+c.place+": ") || len(err.Error()) > 300 {
			t.Errorf("the error reads %.400q", err)
		}
	}
}

func TestLimitsAreWithin(t *testing.T) {
	for _, line := range []string{
		"bpm = 10", "bpm = 10.0", "bpm = 1000", "bpm = 1_000.0", "bpm = 130",
		"per_beat = 1", "per_beat = 48",
		"reps = 1", "reps = 100000",
		"count_in_beats = 0", "count_in_beats = 1000",
		"rest_beats = 0", "rest_beats = 1000",
		`steps = "se=8 ne c sw . nw . ."`, // held to the very moment at which it is due again
	} {
		text := with(line)
		if _, err := drill.Parse("x.toml", []byte(text)); err != nil {
			t.Errorf("%s: %v", line, err)
		}
	}
	// A panel may be due in the slot in which its hold ends; in a single rep a hold may be as long as it likes.
	head := "name = 'a'\nlayout = 'single'\nbpm = 100\nper_beat = 1\n"
	parse(t, head+"reps = 2\nsteps = 'nw=3 c . nw . .'")
	parse(t, head+"reps = 1\nsteps = 'nw=2147483647 c'")
	if d := parse(t, with("bpm = 130")); d.BPM != 130 {
		t.Errorf("bpm = 130 is read as %v", d.BPM)
	}
	if d := parse(t, "\ufeff"+contract); d.Name != "corner hook" {
		t.Error("a byte order mark is read as part of the first key")
	}
	if d := parse(t, strings.ReplaceAll(contract, "\n", "\r\n")); len(d.Notes) != 5 {
		t.Error("lines that end in CR LF")
	}
	if d := parse(t, strings.Replace(contract, "count_in_beats = 4", "#", 1)); d.CountIn() != drill.DefaultCountInBeats {
		t.Error("the count-in's default")
	}
	// A million notes in all and not one more.
	million := func(perRep, reps int) string {
		return fmt.Sprintf("name='m'\nlayout='single'\nbpm=100\nper_beat=1\nreps=%d\nsteps='%s'", reps, strings.Repeat("nw ", perRep))
	}
	for _, c := range []struct {
		perRep, reps int
		ok           bool
	}{{10, 100_000, true}, {11, 90_909, true}, {11, 90_910, false}, {1_000_000, 1, true}, {1_000_001, 1, false}, {500_001, 2, false}} {
		_, err := drill.Parse("m.toml", []byte(million(c.perRep, c.reps)))
		if (err == nil) != c.ok || err != nil && !pad.IsBadInput(err) {
			t.Errorf("%d reps of %d notes: %v", c.reps, c.perRep, err)
		}
	}
}

func TestRunsTooLongForTheClock(t *testing.T) {
	s := drill.Spec{Name: "a", Layout: "single", BPM: 10, PerBeat: 1, Reps: 10_000, Steps: "nw"}
	s.Steps += strings.Repeat(" .", 20_000_000)
	var f *drill.Fault
	if _, err := drill.New(s, nil); !errors.As(err, &f) || f.Key != "reps" {
		t.Errorf("a run of %d slots of 6 s: %v", 20_000_001*10_000, err)
	}
}

func TestReadFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "a.toml")
	if _, err := drill.ReadFile(file); !pad.IsBadInput(err) || !strings.Contains(err.Error(), "a.toml:1:1: ") {
		t.Errorf("a missing file: %v", err)
	}
	if _, err := drill.ReadFile(dir); !pad.IsBadInput(err) {
		t.Errorf("a folder: %v", err)
	}
	if err := os.WriteFile(file, []byte(contract), 0o600); err != nil {
		t.Fatal(err)
	}
	if d, err := drill.ReadFile(file); err != nil || d.Name != "corner hook" {
		t.Errorf("%v, %v", d, err)
	}
}

// hugeLine writes a file of 100 MB in one line.
func hugeLine(t testing.TB) string {
	file := filepath.Join(t.TempDir(), "huge.toml")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	chunk := []byte(strings.Repeat("nw ", 1<<20))
	if _, err := f.WriteString(`steps = "`); err != nil {
		t.Fatal(err)
	}
	for range 32 {
		if _, err := f.Write(chunk); err != nil {
			t.Fatal(err)
		}
	}
	return file
}

func TestHugeLine(t *testing.T) {
	if _, err := drill.ReadFile(hugeLine(t)); !pad.IsBadInput(err) || len(err.Error()) > 400 {
		t.Errorf("%.400v", err)
	}
}

// Must reach: under 1 s for 100 MB in one line.
func BenchmarkHugeLine(b *testing.B) {
	file := hugeLine(b)
	for b.Loop() {
		if _, err := drill.ReadFile(file); err == nil {
			b.Fatal("no error")
		}
	}
}

// hostile are texts of about n bytes on which a reader could take time that
// grows with the square of their length.
func hostile(n int) map[string]string {
	numbered := func(format string) string {
		var b strings.Builder
		for i := 0; b.Len() < n; i++ {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	head := "name='a'\nlayout='single'\nbpm=130\nper_beat=1\nreps=1\n"
	return map[string]string{
		"unknown keys":     numbered("a%d=1\n"),
		"unknown tables":   numbered("[a%d]\n"),
		"dotted keys":      numbered("name.b%d=1\n"),
		"inline table":     "name={" + numbered("a%d=1, ") + "b=1}",
		"array of tables":  "name=[" + numbered("{a%d=1}, ") + "1]",
		"nested arrays":    "name=" + strings.Repeat("[", n),
		"long key":         strings.Repeat("x", n) + "=1",
		"dotted long":      strings.Repeat("x.", n/2) + "x=1",
		"long number":      "bpm=" + strings.Repeat("1", n),
		"lines":            strings.Repeat("\n", n) + "x",
		"escapes":          head + "steps=\"" + strings.Repeat("\\u0020nw ", n/9) + "x\"",
		"joined":           head + "steps=\"" + strings.Repeat("+", n) + "\"",
		"bad last step":    head + "steps=\"" + strings.Repeat("nw ", n/3) + "x\"",
		"bad last contact": head + "steps=\"" + strings.Repeat("nw ", n/8) + "\"\nfooting=\"" + strings.Repeat("L:nw ", n/8-1) + "x\"",
		"long hold":        head + "steps=\"nw=" + strings.Repeat("9", n) + "\"",
	}
}

func TestHostileTexts(t *testing.T) {
	for name, text := range hostile(1 << 20) {
		if _, err := drill.Parse("x.toml", []byte(text)); !pad.IsBadInput(err) || len(err.Error()) > 400 {
			t.Errorf("%s: %.400v", name, err)
		}
	}
}

// Must reach: under 1 s a text of 4 MB.
func BenchmarkHostileTexts(b *testing.B) {
	for _, n := range []int{1 << 20, 4 << 20} {
		for name, text := range hostile(n) {
			b.Run(fmt.Sprintf("%s/%dMB", name, n>>20), func(b *testing.B) {
				b.SetBytes(int64(len(text)))
				for b.Loop() {
					if _, err := drill.Parse("x.toml", []byte(text)); err == nil {
						b.Fatal("no error")
					}
				}
			})
		}
	}
}

// aSpec draws a sound drill without a footing and the notes that its steps mean.
func aSpec(t *rapid.T) (drill.Spec, []drill.Note, *pad.Layout) {
	layout := rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
	slots := rapid.IntRange(1, 24).Draw(t, "slots")
	rest := rapid.Int64Range(0, 3).Draw(t, "rest_beats")
	perBeat := rapid.Int64Range(1, drill.MaxPerBeat).Draw(t, "per_beat")
	var notes []drill.Note
	busy := make([]int64, len(layout.Panels)) // slot from which each panel is free
	first := make([]int64, len(layout.Panels))
	for p := range first {
		first[p] = -1
	}
	var steps strings.Builder
	for slot := range int64(slots) {
		free := []pad.Panel{}
		for p := range layout.Panels {
			if busy[p] <= slot {
				free = append(free, pad.Panel(p))
			}
		}
		k := rapid.SampledFrom([]int{0, 0, 1, 1, 1, 1, 2, 3}).Draw(t, "joined")
		if slot == int64(slots)-1 && len(notes) == 0 {
			k = 1
		}
		free = rapid.Permutation(free).Draw(t, "panels")
		free = free[:min(k, len(free))]
		if len(free) == 0 {
			steps.WriteString(".")
		}
		for i, p := range free {
			n := drill.Note{Slot: int32(slot), Panel: p}
			if first[p] < 0 {
				first[p] = slot
			}
			// A hold ends at the latest when the next rep wants the panel.
			most := min(int64(slots)+rest*perBeat+first[p]-slot, 40)
			if most > 0 && rapid.IntRange(0, 3).Draw(t, "held") == 0 {
				n.Hold = int32(rapid.Int64Range(1, most).Draw(t, "hold"))
				busy[p] = slot + int64(n.Hold)
			}
			if i > 0 {
				steps.WriteByte('+')
			}
			steps.WriteString(layout.ID(p))
			if n.Hold > 0 {
				fmt.Fprintf(&steps, "=%d", n.Hold)
			}
			notes = append(notes, n)
		}
		steps.WriteString(rapid.SampledFrom([]string{" ", "  ", "\t", "|", " | ", "\n"}).Draw(t, "blank"))
	}
	s := drill.Spec{
		Name:      rapid.StringMatching(`[a-zé"'\\#]([a-z é"'\\#]{0,20}[a-z])?`).Draw(t, "name"),
		Layout:    layout.Name,
		BPM:       rapid.OneOf(rapid.Float64Range(drill.MinBPM, drill.MaxBPM), rapid.Map(rapid.IntRange(10, 1000), func(i int) float64 { return float64(i) })).Draw(t, "bpm"),
		PerBeat:   perBeat,
		Reps:      rapid.Int64Range(1, 5000).Draw(t, "reps"),
		RestBeats: rest,
		Steps:     steps.String(),
		Technique: rapid.SampledFrom(append([]string{""}, drill.Techniques...)).Draw(t, "technique"),
	}
	if rapid.Bool().Draw(t, "counted in") {
		beats := rapid.Int64Range(0, drill.MaxBeats).Draw(t, "count_in_beats")
		s.CountInBeats = &beats
	}
	return s, notes, layout
}

// aFooting draws a footing for the notes, which are in due order: each contact
// takes the first note left, a second one of another panel for a bracket or a
// roll, and now and then the other foot joins the landing.
func aFooting(t *rapid.T, notes []drill.Note) []drill.Contact {
	taken := make([]bool, len(notes))
	// next gives the earliest note left that begins no earlier than any note of
	// its panel left, which is what a footing's text can name.
	next := func(after int, not pad.PanelSet) int {
		var seen pad.PanelSet
		for i := range notes {
			if taken[i] || seen.Has(notes[i].Panel) {
				continue
			}
			seen = seen.With(notes[i].Panel)
			if i >= after && !not.Has(notes[i].Panel) {
				return i
			}
		}
		return -1
	}
	var contacts []drill.Contact
	foot := pad.Left
	for landing := 0; ; landing++ {
		var under pad.PanelSet
		for k := range 2 {
			i := next(0, under)
			if i < 0 {
				break
			}
			c := drill.Contact{Foot: foot, Landing: landing, Notes: [2]int32{int32(i), 0}}
			taken[i], under = true, under.With(notes[i].Panel)
			if kind := rapid.SampledFrom([]drill.ContactKind{drill.Step, drill.Bracket, drill.Roll}).Draw(t, "kind"); kind != drill.Step {
				if j := next(i+1, under); j >= 0 {
					c.Kind, c.Notes[1] = kind, int32(j)
					taken[j], under = true, under.With(notes[j].Panel)
				}
			}
			contacts = append(contacts, c)
			foot = foot.Other()
			if k == 0 && rapid.IntRange(0, 3).Draw(t, "joins") > 0 {
				break
			}
		}
		if under == 0 {
			return contacts
		}
	}
}

func aDrill(t *rapid.T) *drill.Drill {
	s, notes, layout := aSpec(t)
	d, err := drill.New(s, nil)
	if err != nil {
		t.Fatalf("%+v: %v", s, err)
	}
	if rapid.Bool().Draw(t, "with footing") {
		contacts := aFooting(t, notes)
		s.Footing = drill.FootingText(d, contacts)
		if d, err = drill.New(s, layout); err != nil {
			t.Fatalf("%s, %s: %v", s.Steps, s.Footing, err)
		}
		if !slices.Equal(d.Footing, contacts) {
			t.Fatalf("%s: %s is read as %+v, meant %+v", s.Steps, s.Footing, d.Footing, contacts)
		}
	}
	return d
}

func TestStepsMeanTheirNotes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, notes, layout := aSpec(t)
		d, err := drill.New(s, nil)
		if err != nil {
			t.Fatalf("%q: %v", s.Steps, err)
		}
		if !slices.Equal(d.Notes, notes) {
			t.Fatalf("%q is read as %v, meant %v", s.Steps, d.Notes, notes)
		}
		s.Steps = drill.StepsText(layout, d.Notes, d.Slots)
		e, err := drill.New(s, nil)
		if err != nil || !slices.Equal(e.Notes, notes) || e.Slots != d.Slots {
			t.Fatalf("written again as %q: %v", s.Steps, err)
		}
	})
}

func same(a, b *drill.Drill) bool {
	count := func(d *drill.Drill) string {
		if d.CountInBeats == nil {
			return "nil"
		}
		return strconv.FormatInt(*d.CountInBeats, 10)
	}
	x, y := a.Spec, b.Spec
	x.CountInBeats, y.CountInBeats = nil, nil
	return x == y && count(a) == count(b) && a.Layout == b.Layout && a.Slots == b.Slots &&
		slices.Equal(a.Notes, b.Notes) && slices.Equal(a.Footing, b.Footing)
}

func TestWrittenAndReadAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := aDrill(t)
		text, err := d.MarshalTOML()
		if err != nil {
			t.Fatal(err)
		}
		e, err := drill.Parse("x.toml", text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if !same(d, e) {
			t.Fatalf("%+v\nis read again as\n%+v", d, e)
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(contract))
	f.Add([]byte(with(`steps = "se=8 ne+nw c sw . nw . ."`)))
	f.Add([]byte(with("footing = 'R:se>ne (L:c R:sw) L:nw'")))
	f.Add([]byte(with("bpm = nan")))
	f.Add([]byte(strings.ReplaceAll(contract, "single", "double")))
	for _, text := range hostile(64) {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		d, err := drill.Parse("x.toml", text)
		if err != nil {
			var bad *pad.BadInput
			if !errors.As(err, &bad) {
				t.Fatalf("%T %v", err, err)
			}
			if lines := strings.Count(string(text), "\n") + 1; bad.Line > lines || bad.Col > len(text)+1 {
				t.Fatalf("%v lies outside the text", err)
			}
			return
		}
		out, err := d.MarshalTOML()
		if err != nil {
			t.Fatal(err)
		}
		e, err := drill.Parse("x.toml", out)
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		if !same(d, e) {
			t.Fatalf("%q\nis written as\n%q", text, out)
		}
		for _, n := range d.Notes {
			g := d.Grid(0)
			if g.Due(0, int64(n.Slot)) < 0 {
				t.Fatal("a note due before the first slot")
			}
		}
	})
}
