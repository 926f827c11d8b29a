package record_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
)

const header = `{"heeltoe":"run","version":1,"layout":"single","lead_us":2000000,"drill":{"name":"corner hook","layout":"single","bpm":130,"per_beat":4,"reps":16,"steps":"se ne c sw . nw . ."}}`

// The contract's own example.
const example = header + `
{"t":2004000,"panel":"se","down":true}
{"t":2163000,"panel":"se","down":false}
{"t":9100000,"gap":true,"lost":12}
`

func TestReadsTheContractsExample(t *testing.T) {
	l, err := record.ReadLogFrom("run.jsonl", strings.NewReader(example))
	if err != nil {
		t.Fatal(err)
	}
	se, _ := pad.Single.Lookup("se")
	want := []pad.Edge{{T: 2004000, Panel: se, Kind: pad.Down}, {T: 2163000, Panel: se}, {T: 9100000, Panel: pad.NoPanel, Kind: pad.Gap, Lost: 12}}
	if len(l.Edges) != len(want) {
		t.Fatalf("%d edges, want %d", len(l.Edges), len(want))
	}
	for i := range want {
		if l.Edges[i] != want[i] {
			t.Errorf("edge %d is %+v, want %+v", i, l.Edges[i], want[i])
		}
	}
	if l.Header.Lead != 2*pad.Second || l.Drill.Name != "corner hook" || l.Drill.BPM != 130 || len(l.Drill.Notes) != 5 || len(l.Warnings) != 0 {
		t.Errorf("header %+v, warnings %v", l.Header, l.Warnings)
	}
}

func TestFaultsNameTheirPlace(t *testing.T) {
	h := header + "\n"
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "r:1:1: the file is empty"},
		{"not JSON", "hello\n", "r:1:1: broken JSON"},
		{"header cut", header[:60], "r:1:61: the JSON breaks off"},
		{"another kind", `{"heeltoe":"reports","version":1}` + "\n", `r:1:12: "heeltoe" is "reports"`},
		{"no kind", `{"version":1}` + "\n", "r:1:1: this is not a run log"},
		{"version", strings.Replace(h, `"version":1`, `"version":2`, 1), "r:1:28: version 2"},
		{"layouts differ", strings.Replace(h, `"layout":"single","lead`, `"layout":"double","lead`, 1), `r:1:39: the header's layout is "double"`},
		{"no lead", strings.Replace(h, `"lead_us":2000000,`, ``, 1), `r:1:1: the header lacks "lead_us"`},
		{"lead", strings.Replace(h, `2000000`, `2.5`, 1), `r:1:58: "lead_us" is not a whole number`},
		{"drill fault", strings.Replace(h, `se ne c`, `se up c`, 1), `r:1:159: drill: steps: "up" is not a panel`},
		{"drill lacks", strings.Replace(h, `"reps":16,`, ``, 1), `r:1:74: the drill lacks "reps"`},
		{"windows", strings.Replace(h, `"lead_us"`, `"windows_us":{"inner":[-40000]},"lead_us"`, 1), `r:1:70: "inner" is not two whole numbers`},
		{"windows nested", strings.Replace(h, `"lead_us"`, `"windows_us":{"inner":[-400000,0]},"lead_us"`, 1), `r:1:61: windows_us: middle is narrower`},
		{"panel", h + `{"t":1,"panel":"up","down":true}` + "\n", `r:2:16: "up" is not a panel`},
		{"down twice", h + `{"t":1,"panel":"c","down":true}` + "\n" + `{"t":2,"panel":"c","down":true}` + "\n", "r:3:16: panel c goes down while it is down"},
		{"time back", h + `{"t":5,"panel":"c","down":true}` + "\n" + `{"t":4,"panel":"c","down":false}` + "\n", "r:3:6: time goes back, from 5 to 4"},
		{"fraction", h + `{"t":5.5,"panel":"c","down":true}` + "\n", `r:2:6: "t" is not a whole number`},
		{"no t", h + `{"panel":"c","down":true}` + "\n", `r:2:1: the key "t" is missing`},
		{"no down", h + `{"t":1,"panel":"c"}` + "\n", `r:2:1: the key "down" is missing`},
		{"unknown key", h + `{"t":1,"panel":"c","down":true,"x":1}` + "\n", `r:2:36: unknown key "x"`},
		{"key twice", h + `{"t":1,"t":2,"panel":"c","down":true}` + "\n", `r:2:8: broken JSON: duplicate`},
		{"gap with panel", h + `{"t":1,"gap":true,"panel":"c"}` + "\n", "r:2:1: a gap has no panel"},
		{"two objects", h + `{"t":1,"panel":"c","down":true} {}` + "\n", "r:2:33: something follows"},
		{"blank line", h + "\n" + `{"t":1,"panel":"c","down":true}` + "\n", "r:2:1: the JSON breaks off"},
		{"broken within", h + `{"t":1,"pan` + "\n" + `{"t":2,"panel":"c","down":true}` + "\n", "r:2:12: "},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := record.ReadLogFrom("r", strings.NewReader(c.text))
			var b *pad.BadInput
			if !errors.As(err, &b) {
				t.Fatalf("got %v, want bad input", err)
			}
			if !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("got  %s\nwant %s…", err, c.want)
			}
		})
	}
}

func TestWarnings(t *testing.T) {
	for _, c := range []struct {
		name, text, want string
		edges            int
	}{
		{"up while up", header + "\n" + `{"t":1,"panel":"c","down":false}` + "\n", "r:2:16: panel c goes up while it is up", 1},
		{"cut short", header + "\n" + `{"t":1,"panel":"c","down":true}` + "\n" + `{"t":2,"pan`, "r:3:12: the log is cut short here", 1},
		{"last line whole without its line feed", header + "\n" + `{"t":1,"panel":"c","down":true}`, "", 1},
		{"unknown after a gap", header + "\n" + `{"t":1,"gap":true}` + "\n" + `{"t":2,"panel":"c","down":false}` + "\n", "", 2},
		{"down again after a gap", header + "\n" + `{"t":1,"panel":"c","down":true}` + "\n" + `{"t":1,"gap":true,"lost":0}` + "\n" + `{"t":2,"panel":"c","down":true}` + "\n", "", 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := record.ReadLogFrom("r", strings.NewReader(c.text))
			if err != nil {
				t.Fatal(err)
			}
			if len(l.Edges) != c.edges {
				t.Errorf("%d edges, want %d", len(l.Edges), c.edges)
			}
			got := strings.Join(l.Warnings, "\n")
			if (c.want == "") != (got == "") || !strings.HasPrefix(got, c.want) {
				t.Errorf("warnings %q, want %q", got, c.want)
			}
		})
	}
}

// A line of 100 MB is refused without being read to its end.
func TestHugeLines(t *testing.T) {
	for _, c := range []struct {
		name, start, want string
		most              int64 // bytes that may be read
	}{
		{"header", `{"heeltoe":"`, "r:1:33554433: the line is longer than", 33 << 20},
		{"edge", header + "\n" + `{"t":1,"panel":"`, "r:2:4097: the line is longer than", 1 << 20},
	} {
		f := &fill{left: 100 << 20}
		_, err := record.ReadLogFrom("r", io.MultiReader(strings.NewReader(c.start), f))
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s…", c.name, err, c.want)
		}
		if read := 100<<20 - f.left; read > c.most {
			t.Errorf("%s: %d bytes were read, want at most %d", c.name, read, c.most)
		}
	}
}

// fill is a text of the letter x.
type fill struct{ left int64 }

func (f *fill) Read(p []byte) (int, error) {
	n := min(int64(len(p)), f.left)
	if n == 0 {
		return 0, io.EOF
	}
	for i := range p[:n] {
		p[i] = 'x'
	}
	f.left -= n
	return int(n), nil
}

func write(t interface{ Fatal(...any) }, h record.Header, edges []pad.Edge) []byte {
	var buf bytes.Buffer
	w, err := record.NewLogWriter(&buf, h)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range edges {
		if err := w.Write(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// What is written is read as it was, and written again as the same bytes,
// unknown keys of the header included.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.Int64Range(0, 8).Draw(t, "count-in")
		h := record.Header{Layout: "double", Lead: pad.Time(rapid.Int64Range(0, 1e9).Draw(t, "lead")),
			Drill: drill.Spec{Name: rapid.StringMatching(`[ -~äöé"\\]{0,20}x`).Draw(t, "name"), Layout: "double",
				BPM: float64(rapid.IntRange(1000, 100_000).Draw(t, "centi bpm")) / 100, PerBeat: 4, Reps: 3, CountInBeats: &count, Steps: "1nw . 2se=3"},
			Pad: rapid.String().Draw(t, "pad"), Player: rapid.StringMatching(`[a-z]*`).Draw(t, "player"), Bar: "both",
			ShoeMM: 300, Shift: pad.Time(rapid.IntRange(-50_000, 50_000).Draw(t, "shift")), Debounce: pad.Time(rapid.IntRange(0, 20_000).Draw(t, "debounce")),
			Extra:      []record.Member{{Key: "light", Value: []byte(`{"lux": [1, 2.50]}`)}},
			DrillExtra: []record.Member{{Key: "colour", Value: []byte(`"grey"`)}}}
		if rapid.Bool().Draw(t, "windows") {
			w := drill.DefaultWindows
			w[drill.Inner].Early -= 1000
			h.Windows = &w
		}
		if rapid.Bool().Draw(t, "started") {
			h.Started = time.Date(2026, 5, 4, 18, 30, 0, rapid.IntRange(0, 999).Draw(t, "ms")*1e6, time.UTC)
		}
		var edges []pad.Edge
		var down pad.PanelSet
		at := pad.Time(0)
		for range rapid.IntRange(0, 30).Draw(t, "edges") {
			at += pad.Time(rapid.Int64Range(0, 1e6).Draw(t, "step"))
			p := pad.Panel(rapid.IntRange(0, 10).Draw(t, "panel"))
			switch {
			case p == 10:
				edges = append(edges, pad.Edge{T: at, Kind: pad.Gap, Panel: pad.NoPanel, Lost: 7})
				down = 0
			case down.Has(p):
				edges = append(edges, pad.Edge{T: at, Panel: p, Kind: pad.Up})
				down = down.Without(p)
			default:
				edges = append(edges, pad.Edge{T: at, Panel: p, Kind: pad.Down})
				down = down.With(p)
			}
		}
		text := write(t, h, edges)
		l, err := record.ReadLogFrom("r", bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		if again := write(t, l.Header, l.Edges); !bytes.Equal(text, again) {
			t.Fatalf("written again:\n%s\nwas:\n%s", again, text)
		}
		if len(l.Edges) != len(edges) {
			t.Fatalf("%d edges of %d", len(l.Edges), len(edges))
		}
		for i := range edges {
			if l.Edges[i] != edges[i] {
				t.Fatalf("edge %d: %+v, was %+v", i, l.Edges[i], edges[i])
			}
		}
	})
}

func TestWritingAnEdgeDoesNotAllocate(t *testing.T) {
	w, err := record.NewLogWriter(io.Discard, record.Header{Layout: "single", Drill: drill.Spec{Name: "x", Layout: "single", BPM: 100, PerBeat: 1, Reps: 1, Steps: "c"}})
	if err != nil {
		t.Fatal(err)
	}
	at := pad.Time(0)
	step := func() {
		for range 100 {
			at += 1000
			if err := w.Write(pad.Edge{T: at, Panel: 3, Kind: pad.EdgeKind(at / 1000 % 2)}); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
	}
	step()
	if a := testing.AllocsPerRun(100, step); a != 0 {
		t.Errorf("%v allocations for 100 edges", a)
	}
}

func FuzzRunLog(f *testing.F) {
	f.Add([]byte(example))
	f.Add([]byte(header))
	f.Add([]byte(header + "\n{\"t\":1,\"pan"))
	f.Add([]byte(strings.Replace(example, `"lead_us"`, `"windows_us":{"outer":[-200000,250000]},"shift_us":-5,"x":[{}],"lead_us"`, 1)))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := record.ReadLogFrom("r", bytes.NewReader(text))
		if err != nil {
			var b *pad.BadInput
			if !errors.As(err, &b) || b.Line < 1 || b.Col < 1 || b.Msg == "" {
				t.Fatalf("%v is not bad input with its place", err)
			}
			return
		}
		once := write(t, l.Header, l.Edges)
		again, err := record.ReadLogFrom("r", bytes.NewReader(once))
		if err != nil {
			t.Fatalf("what was written is refused: %v\n%s", err, once)
		}
		if twice := write(t, again.Header, again.Edges); !bytes.Equal(once, twice) {
			t.Fatalf("written twice:\n%s\n%s", once, twice)
		}
	})
}

// The history of a player is read again from the logs: 10 million edges must
// take under 30 s, so at least 0.35 million edges a second.
func BenchmarkReadLog(b *testing.B) {
	var edges []pad.Edge
	for i := range 10_000 {
		edges = append(edges, pad.Edge{T: pad.Time(i) * 50_000, Panel: pad.Panel(i / 2 % 5), Kind: pad.EdgeKind(1 - i%2)})
	}
	text := write(b, record.Header{Layout: "single", Drill: drill.Spec{Name: "x", Layout: "single", BPM: 100, PerBeat: 1, Reps: 1, Steps: "c"}}, edges)
	b.ReportAllocs()
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		l, err := record.ReadLogFrom("r", bytes.NewReader(text))
		if err != nil || len(l.Edges) != len(edges) {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(edges)*b.N)/b.Elapsed().Seconds()/1e6, "Medges/s")
}
