package page_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/html"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/render/page"
	"heeltoe/trainer/played"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/progress"
	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
	"heeltoe/trainer/success"
	"heeltoe/trainer/view"
)

// pages are those that the tests look at, by name.
func pages(t testing.TB) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	made, err := storetest.Plan{Dir: filepath.Join(dir, "runs"), Runs: 160, Presses: 120, Weeks: 4, From: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC),
		Drills: []string{"corner-hook", "stair-ten"}, BPM: []float64{112, 128}, ClockSDMS: [2]float64{26, 12}, MissRate: 0.05,
		Players: []string{`ada <script>alert(1)</script> & "co"`}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	var runs []*view.Played
	for _, i := range []int{0, 1, 158} {
		r, err := played.Of(made[i].File, practice.Review)
		if err != nil {
			t.Fatal(err)
		}
		runs = append(runs, r)
	}
	x := storetest.Open(t, dir)
	history := storetest.Runs(t, x, store.Filter{Drill: keyOf(t, x, "corner hook")})
	out := map[string][]byte{}
	put := func(name string, write func(io.Writer) error) {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		out[name] = b.Bytes()
	}
	put("run", func(w io.Writer) error { return page.Run(w, runs[0]) })
	coarse, report := *runs[0], *runs[0].Report
	report.Setting.Fineness = pad.Fineness(100 * pad.Millisecond) // far coarser than pads are, so that much is grey
	coarse.Report = &report
	put("coarse pad", func(w io.Writer) error { return page.Run(w, &coarse) })
	put("pad", func(w io.Writer) error { return page.Pad(w, checked(pad.Single, pad.Millisecond)) })
	put("pad of two devices", func(w io.Writer) error { return page.Pad(w, checked(pad.Double, 8*pad.Millisecond)) })
	put("double", func(w io.Writer) error { return page.Run(w, runs[1]) })
	put("pair", func(w io.Writer) error { return page.Pair(w, runs[0], runs[2]) })
	put("drill", func(w io.Writer) error { return page.Drill(w, "corner hook", progress.Of(history, time.UTC)) })
	put("four weeks", func(w io.Writer) error { return page.Drill(w, "corner hook", fourWeeks(t)) })
	empty := filepath.Join(dir, "empty.jsonl")
	text, err := os.ReadFile(made[0].File)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(empty, text[:bytes.IndexByte(text, '\n')+1], 0o644); err != nil {
		t.Fatal(err)
	}
	none, err := played.Of(empty, practice.Review)
	if err != nil {
		t.Fatal(err)
	}
	put("no press", func(w io.Writer) error { return page.Run(w, none) })
	if keep := os.Getenv("HEELTOE_TEST_PICTURES"); keep != "" {
		for name, text := range out {
			if err := os.WriteFile(filepath.Join(keep, "page-"+name+".html"), text, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	return out
}

// weeks are those of fourWeeks: reading their feet takes a while, and several tests look at them.
var weeks struct {
	sync.Once
	of *view.Progress
}

// fourWeeks is what a player of two ways of playing did in four weeks, feet read.
func fourWeeks(t testing.TB) *view.Progress {
	t.Helper()
	weeks.Do(func() { weeks.of = playWeeks(t) })
	if weeks.of == nil {
		t.Fatal("the four weeks could not be made")
	}
	return weeks.of
}

func playWeeks(t testing.TB) *view.Progress {
	t.Helper()
	dir, ms := t.TempDir(), pad.Millisecond
	spec := drill.Spec{Name: "corner hook", Layout: "single", BPM: 120, PerBeat: 4, Reps: 8, Steps: "se ne c sw . nw . .", Technique: "alternate", Footing: "R:se L:ne R:c L:sw R:nw"}
	hop := spec
	hop.Technique, hop.Footing = "hop", "R:se&ne L:c&sw L:nw"
	p := storetest.Player{Dir: filepath.Join(dir, "runs"), From: time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC), Weeks: 4, Evenings: 1,
		Ways:  []storetest.Way{{Drill: spec, Curve: success.Curve{Middle: 160, Width: 5, Lapse: success.Lapse}}, {Drill: hop, Curve: success.Curve{Middle: 175, Width: 16, Lapse: success.Lapse}}},
		Tempi: []float64{130, 145, 155, 170, 190}, Reps: 8, Late: 150 * ms,
		Windows:   &drill.Windows{{Early: -40 * ms, Late: 50 * ms}, {Early: -130 * ms, Late: 130 * ms}, {Early: -135 * ms, Late: 170 * ms}},
		ClockSDMS: [2]float64{12, 6}, Held: []float64{147, 150, 153, 159}, Critical: 5.5, Reserve: 150, Seed: 2}
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	x := storetest.Open(t, dir)
	runs := storetest.Runs(t, x, store.Filter{})
	for _, r := range runs {
		if _, err := practice.RecallIn(t.Context(), x, x.File(r.Log)); err != nil {
			t.Fatal(err)
		}
	}
	runs = storetest.Runs(t, x, store.Filter{})
	return progress.OfDrill(runs, time.UTC)
}

// The page of four weeks tells what a player wants to know, each figure with its unit,
// interval and n: whether they got steadier, where each technique breaks and where one
// overtakes the other, and how stamina went.
func TestLongFourWeeksOnOnePage(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	p := fourWeeks(t)
	var b bytes.Buffer
	if err := page.Drill(&b, "corner hook", p); err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(&b)
	if err != nil {
		t.Fatal(err)
	}
	facts := map[string]string{} // by name: value and how sure it is
	var text func(n *html.Node) string
	text = func(n *html.Node) string {
		if n.Type == html.TextNode {
			return n.Data
		}
		s := ""
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			s += text(c)
		}
		return s
	}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Data == "dt" {
			for v := n.NextSibling; v != nil; v = v.NextSibling {
				if v.Data == "dd" {
					facts[strings.TrimSpace(text(n))] += strings.Join(strings.Fields(text(v)), " ") + "\n"
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	figure := `[−+]?[\d.]+ [^()\d]+ \([−+]?[\d.]+ to [−+]?[\d.]+, n \d+ [a-z ]+\)`
	for name, want := range map[string]string{
		"Breaks: corner hook, alternate":   figure,
		"Breaks: corner hook, hop":         figure,
		"Overtaking":                       `hop above [\d.]+ beats a minute \([\d.]+ to [\d.]+, n \d+ clear reps\)`,
		"For long: corner hook, alternate": figure + `.* landings a second \([\d.]+ to [\d.]+, n 4 runs\)`,
		"Within a run":                     figure,
		"Over a pause":                     figure,
		"Steadier?":                        `^(steadier|no change shown|too few runs to tell)`,
		"All groups":                       `^\d+ steadier, \d+ less steady \(n \d+ groups\)`,
		"Scatter, newest week":             `[\d.]+ ms \(`,
		"Change":                           "steadier",
	} {
		if !regexp.MustCompile(want).MatchString(facts[name]) {
			t.Errorf("%s: %q", name, facts[name])
		}
	}
}

func keyOf(t testing.TB, x *store.Index, name string) string {
	list, err := x.Drills(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range list {
		if d.Name == name {
			return d.Key
		}
	}
	t.Fatalf("there is no run of %s", name)
	return ""
}

var inlineSVG = regexp.MustCompile(`(?s)<svg.*?</svg>`)

// Each page parses, holds nothing of the network and no script, each plot is
// well-formed XML with a title and words of its own, ids are not given twice, what a
// player typed stays text, and the cautions are there.
func TestLongPagesAreWhole(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	for name, text := range pages(t) {
		doc, err := html.Parse(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		ids := map[string]bool{}
		var labels []string
		seen := map[string]int{}
		var walk func(n *html.Node)
		walk = func(n *html.Node) {
			if n.Type == html.ElementNode {
				seen[n.Data]++
				for _, a := range n.Attr {
					switch a.Key {
					case "id":
						if ids[a.Val] {
							t.Errorf("%s: the id %s is given twice", name, a.Val)
						}
						ids[a.Val] = true
					case "aria-labelledby":
						labels = append(labels, strings.Fields(a.Val)...)
					case "src", "action":
						t.Errorf("%s: %s has %s", name, n.Data, a.Key)
					case "href":
						if !strings.HasPrefix(a.Val, "#") && a.Val != "data:," {
							t.Errorf("%s: it leads to %s", name, a.Val)
						}
					}
				}
			}
			for c := n.FirstChild; c != nil; c = c.NextSibling {
				walk(c)
			}
		}
		walk(doc)
		for _, l := range labels {
			if !ids[l] {
				t.Errorf("%s: the label %s is not there", name, l)
			}
		}
		if seen["script"] > 0 || seen["h1"] != 1 || seen["svg"] < 3 || seen["table"] < 1 || bytes.Contains(text, []byte("http://")) || bytes.Contains(text, []byte("https://")) {
			t.Errorf("%s has %v", name, seen)
		}
		if !strings.Contains(strings.Join(strings.Fields(string(text)), " "), strings.Join(strings.Fields(view.CautionLong), " ")) {
			t.Errorf("%s: the cautions are not there", name)
		}
		for _, bad := range []string{"NaN", "Inf", "%!", "9223372036854775807"} {
			if bytes.Contains(text, []byte(bad)) {
				t.Errorf("%s holds %s", name, bad)
			}
		}
		for _, svg := range inlineSVG.FindAll(text, -1) {
			dec := xml.NewDecoder(bytes.NewReader(svg))
			for {
				if _, err := dec.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatalf("%s: a plot is no XML: %v\n%.300s", name, err, svg)
				}
			}
			if bytes.Contains(svg, []byte(`role="img"`)) && (!bytes.Contains(svg, []byte("<title")) || !bytes.Contains(svg, []byte("<desc"))) {
				t.Errorf("%s: a plot has no title or no words", name)
			}
		}
	}
}

// The bars of the strip lie where the log has them: the place of each, read back
// from the drawing, is that of its press, to the drawing's tenth of a unit.
func TestStripIsTrue(t *testing.T) {
	dir := t.TempDir()
	made, err := storetest.Plan{Dir: dir, Runs: 1, Presses: 100, Weeks: 1, From: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Drills: []string{"corner-hook"}}.Make()
	if err != nil {
		t.Fatal(err)
	}
	r, err := played.Of(made[0].File, practice.Review)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Bars) != made[0].Presses {
		t.Fatalf("%d bars of %d presses", len(r.Bars), made[0].Presses)
	}
	var b bytes.Buffer
	if err := page.Run(&b, r); err != nil {
		t.Fatal(err)
	}
	svg := inlineSVG.Find(b.Bytes()) // the strip comes first
	var got []float64
	for _, d := range regexp.MustCompile(`class="l (?:left|right|any)"[^>]* d="([^"]*)"`).FindAllSubmatch(svg, -1) {
		for _, m := range regexp.MustCompile(`M([\d.-]+) `).FindAllSubmatch(d[1], -1) {
			var x float64
			if err := xml.Unmarshal([]byte("<x>"+string(m[1])+"</x>"), &x); err != nil {
				t.Fatal(err)
			}
			got = append(got, x)
		}
	}
	if len(got) != len(r.Bars) {
		t.Fatalf("%d bars are drawn of %d", len(got), len(r.Bars))
	}
	// The least and the greatest fix the scale; the mean must then agree.
	lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
	for _, x := range got {
		lo, hi, sum = min(lo, x), max(hi, x), sum+x
	}
	tlo, thi, tsum := math.Inf(1), math.Inf(-1), 0.0
	for _, bar := range r.Bars {
		v := float64(bar.Down)
		tlo, thi, tsum = min(tlo, v), max(thi, v), tsum+v
	}
	want := lo + (tsum/float64(len(got))-tlo)/(thi-tlo)*(hi-lo)
	if math.Abs(want-sum/float64(len(got))) > 0.1 {
		t.Errorf("bars lie at %.2f on average, by the log at %.2f", sum/float64(len(got)), want)
	}
}

// On a coarse pad the figures that it cannot tell are grey and in brackets, as facts and in tables,
// and the page says why; on a pad of which nothing is known none is.
func TestLongPageGreysWhatThePadHides(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	all := pages(t)
	coarse, plain := string(all["coarse pad"]), string(all["run"])
	for _, want := range []string{"The pad reports every 100.0 ms, which alone spreads a press by 28.87 ms",
		"Grey: finer than the pad can tell", `<strong class="soft">(`, `<td class="soft">(`} {
		if !strings.Contains(coarse, want) || strings.Contains(plain, want) {
			t.Errorf("%q: on the coarse pad's page %v, on the other %v", want, strings.Contains(coarse, want), strings.Contains(plain, want))
		}
	}
}
