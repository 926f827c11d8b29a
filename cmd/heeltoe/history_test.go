package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"

	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
	"heeltoe/trainer/view"
)

// weeks puts four weeks of a player who gets steadier into the history.
func weeks(t testing.TB, p storetest.Plan) []storetest.Made {
	t.Helper()
	p.Dir, p.From, p.Weeks = store.RunsDir(store.Dir()), time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), 4
	made, err := p.Make()
	if err != nil {
		t.Fatal(err)
	}
	return made
}

var drilled = storetest.Plan{Runs: 56, Presses: 80, Drills: []string{"corner-hook", "stair-ten"}, ClockSDMS: [2]float64{26, 12}, MissRate: 0.02}

// What is played is in the history at once, without being looked for.
func TestEveryRunIsKept(t *testing.T) {
	home(t)
	for i := range 3 {
		must(t, "live", "corner-hook", "--source", "synth", "--fast", "--reps", fmt.Sprint(4+i), "--player", "ada")
	}
	must(t, "live", "corner-hook", "--source", "synth", "--fast", "--out", filepath.Join(t.TempDir(), "elsewhere.jsonl"))
	must(t, "live", "corner-hook", "--source", "synth", "--fast", "--no-log")
	runs := storetest.Runs(t, storetest.Index(t, store.Dir()), store.Filter{Player: "ada"}) // as it was left: nothing is synced
	if len(runs) != 3 || runs[2].Reps != 6 || runs[0].Notes != 20 {
		t.Errorf("the history has %+v", runs)
	}
	for _, r := range runs { // what the feet did was read as the run ended
		if r.Technique == "" || !r.P.Defined() {
			t.Errorf("a run was read as %q, %v", r.Technique, r.P)
		}
	}
	list := must(t, "history", "list", "corner-hook")
	if strings.Count(list, "corner hook") != 3 || !strings.Contains(list, runs[0].ID[:shortID]) {
		t.Errorf("the list is\n%s", list)
	}
}

func TestProgressShowsWeeks(t *testing.T) {
	home(t)
	weeks(t, drilled)
	text := must(t, "progress", "corner-hook")
	for _, want := range []string{"corner hook, roll asked for, 110 to <120 beats a minute: 28 runs, 2240 notes", "player not named; pad practice pad; hands on the bar: none; shoes 290 mm",
		": steadier\n", "half of the notes hit", "2026-03-02     7"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	var p view.Progress
	if err := json.Unmarshal([]byte(must(t, "progress", "--json")), &p); err != nil {
		t.Fatal(err)
	}
	if len(p.Groups) != 2 {
		t.Fatalf("%d groups", len(p.Groups))
	}
	for _, g := range p.Groups {
		if g.Verdict != view.Steadier || len(g.Weeks) != 4 || g.Scatter.N != 7 || !(g.Scatter.Low < g.Scatter.Value && g.Scatter.Value < g.Scatter.High) || !(g.Trend.High < 0) {
			t.Errorf("%+v", g)
		}
	}
	// A drill that is found by the name of its runs alone; the mirror image is a group of its own.
	mine := filepath.Join(t.TempDir(), "mine.toml")
	toml := strings.Replace(must(t, "drills", "show", "corner-hook", "--reverse", "--toml"), "corner hook, reversed", "My own Hook", 1)
	if err := os.WriteFile(mine, []byte(toml), 0o644); err != nil {
		t.Fatal(err)
	}
	must(t, "live", mine, "--source", "synth", "--fast")
	must(t, "live", mine, "--mirror", "--source", "synth", "--fast")
	must(t, "live", mine, "--mirror", "--source", "synth", "--fast", "--player", "ben", "--bar", "both")
	if err := os.Remove(mine); err != nil {
		t.Fatal(err)
	}
	text = must(t, "progress", "my-own-hook")
	if strings.Count(text, " beats a minute: 1 run, ") != 3 || strings.Count(text, "My own Hook, mirrored, roll, ") != 2 || !strings.Contains(text, string(view.TooFew)) {
		t.Errorf("got\n%s", text)
	}
	if text := must(t, "progress", "my-own-hook", "--player", "ben"); strings.Count(text, " beats a minute: 1 run, ") != 1 {
		t.Errorf("of one player:\n%s", text)
	}
	if code, out, err := heeltoe("", "progress", "no-such-drill"); code != exitInput || out != "" || !strings.Contains(err, "no built-in drill") {
		t.Errorf("exit %d, %q, %q", code, out, err)
	}
}

// Runs from elsewhere are read when that is asked for; a rebuild keeps what was read.
func TestHistoryRead(t *testing.T) {
	home(t)
	weeks(t, storetest.Plan{Runs: 6, Presses: 40, Drills: []string{"corner-hook", "corner-jumps"}})
	if out := must(t, "progress", "corner-hook"); !strings.Contains(out, "roll asked for") || !strings.Contains(out, "not known of 3 runs") {
		t.Error(out)
	}
	if out := must(t, "history", "read", "corner-hook"); out != "3 runs read.\n" {
		t.Error(out)
	}
	if out := must(t, "progress", "corner-hook"); strings.Contains(out, "asked for") || strings.Contains(out, "not known") {
		t.Error(out)
	}
	before := must(t, "history", "list", "--json")
	must(t, "history", "rebuild")
	if after := must(t, "history", "list", "--json"); after != before || strings.Count(after, `"technique":""`) != 3 {
		t.Error("rebuilt, what was read is another")
	}
	if out := must(t, "history", "read"); out != "3 runs read.\n" {
		t.Error(out)
	}
	if out := must(t, "history", "read"); out != "0 runs read.\n" {
		t.Error(out)
	}
}

// Import and rebuild, by the command line.
func TestHistoryCommands(t *testing.T) {
	home(t)
	made := weeks(t, drilled)
	before := must(t, "progress", "--json")
	other := t.TempDir()
	if err := os.Rename(filepath.Join(store.RunsDir(store.Dir()), "2026"), filepath.Join(other, "2026")); err != nil {
		t.Fatal(err)
	}
	if out := must(t, "history", "list"); !strings.Contains(out, "no such run") {
		t.Errorf("without logs the list is\n%s", out)
	}
	if err := os.WriteFile(filepath.Join(other, "bad.jsonl"), []byte("{}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	code, out, warned := heeltoe("", "history", "import", other)
	if code != exitDone || !strings.Contains(out, "56 runs taken in, 0 here already, 0 longer than what was here; 1 file cannot be read") || !strings.Contains(warned, "bad.jsonl:1:1") {
		t.Errorf("exit %d, %s%s", code, out, warned)
	}
	if out := must(t, "history", "import", filepath.Join(other, "2026")); !strings.Contains(out, "0 runs taken in, 56 here already") {
		t.Error(out)
	}
	if after := must(t, "progress", "--json"); after != before {
		t.Error("after the import progress is another")
	}
	if out := must(t, "history", "rebuild"); !strings.Contains(out, fmt.Sprintf("%d runs; 0 logs", len(made))) {
		t.Error(out)
	}
	if after := must(t, "progress", "--json"); after != before {
		t.Error("rebuilt, progress is another")
	}
	if code, _, err := heeltoe("", "history", "import", filepath.Join(other, "none")); code != exitInput || !strings.Contains(err, "none") {
		t.Errorf("exit %d: %s", code, err)
	}
}

// The Parquet file holds what the CSV file holds, as Apache's own implementation
// reads it, and both what the review says.
func TestLongExport(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	made := weeks(t, storetest.Plan{Runs: 6, Presses: 60, Drills: []string{"corner-hook", "stair-ten"}, MissRate: 0.1, Players: []string{"", "ada, \"x\"\n"}})
	dir := t.TempDir()
	for _, flags := range [][]string{{"runs"}, {"notes"}, {"notes", "--feet"}} {
		of := flags[0]
		args := append([]string{"export", "--of"}, flags...)
		rows, err := csv.NewReader(strings.NewReader(must(t, args...))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		pq := filepath.Join(dir, strings.Join(flags, "")+".parquet")
		must(t, append(args, "--format", "parquet", "--out", pq)...)
		if code, _, err := heeltoe("", "export", "--of", of, "--format", "parquet", "--out", pq); code != exitInput || !strings.Contains(err, "--force") {
			t.Errorf("a file was replaced: exit %d, %s", code, err)
		}
		want := 6
		if of == "notes" {
			want = 0
			for _, m := range made {
				var r struct{ Summary struct{ Notes int } }
				if err := json.Unmarshal([]byte(must(t, "review", m.File, "--json")), &r); err != nil {
					t.Fatal(err)
				}
				want += r.Summary.Notes
			}
		}
		if len(rows)-1 != want {
			t.Errorf("%s: %d lines, want %d", of, len(rows)-1, want)
		}
		compareParquet(t, pq, rows)
	}
	// Empty, both are still whole files.
	home(t)
	if out := must(t, "export"); strings.Count(out, "\n") != 1 {
		t.Errorf("of no runs: %q", out)
	}
	must(t, "export", "--format", "parquet", "--out", filepath.Join(dir, "none.parquet"))
}

// compareParquet reads a Parquet file by Apache Arrow and compares it with CSV
// rows, the first of them the names.
func compareParquet(t *testing.T, name string, rows [][]string) {
	t.Helper()
	f, err := file.OpenParquetFile(name, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	tbl, err := r.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer tbl.Release()
	if int(tbl.NumCols()) != len(rows[0]) || int(tbl.NumRows()) != len(rows)-1 {
		t.Fatalf("%s has %d columns and %d rows, the CSV %d and %d", name, tbl.NumCols(), tbl.NumRows(), len(rows[0]), len(rows)-1)
	}
	for c := range rows[0] {
		col := tbl.Column(c)
		if col.Name() != rows[0][c] {
			t.Errorf("column %d is %s, in the CSV %s", c, col.Name(), rows[0][c])
		}
		row := 1
		for _, chunk := range col.Data().Chunks() {
			for i := range chunk.Len() {
				got := ""
				if !chunk.IsNull(i) {
					got = chunk.ValueStr(i)
				}
				want := rows[row][c]
				if col.Name() == "started" {
					a, err1 := time.Parse("2006-01-02 15:04:05.999999999Z0700", strings.Replace(got, "T", " ", 1))
					b, err2 := time.Parse(time.RFC3339Nano, want)
					if err1 != nil || err2 != nil || !a.Equal(b) {
						t.Errorf("row %d began %s, in the CSV %s (%v, %v)", row, got, want, err1, err2)
					}
				} else if got != want && !sameNumber(got, want) {
					t.Errorf("%s of row %d is %q, in the CSV %q", col.Name(), row, got, want)
				}
				row++
			}
		}
	}
}

func sameNumber(a, b string) bool {
	var x, y float64
	n, _ := fmt.Sscan(a, &x)
	m, _ := fmt.Sscan(b, &y)
	return n == 1 && m == 1 && x == y
}

// Killed at any moment of a run or of the making of the index, the history is
// right at its next use, with nothing mended by hand. A few kills here, 200 in
// make measure.
func killAtRandom(t *testing.T, kills int) {
	home(t)
	made := weeks(t, storetest.Plan{Runs: 120, Presses: 100, Drills: []string{"corner-hook"}})
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	want := len(made)
	for k := range kills {
		args := [][]string{
			{"history", "rebuild"},
			{"live", "corner-hook", "--source", "synth", "--text", "--bpm", "300", "--reps", "200"},
			{"live", "corner-hook", "--source", "synth", "--fast", "--reps", "300"},
			{"progress"},
		}[k%4]
		if args[0] == "progress" {
			os.Remove(filepath.Join(store.Dir(), "history.db")) // to be made anew
		}
		cmd := exec.Command(self, args...)
		cmd.Env = append(os.Environ(), asProgram+"=1")
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(5+(k*7919)%400) * time.Millisecond)
		_ = cmd.Process.Kill() // it may have ended
		_ = cmd.Wait()
		if args[0] == "live" {
			want = logs(t)
		}
		code, out, warned := heeltoe("", "history", "list", "--json")
		if code != exitDone || strings.Contains(warned, "cannot be read") || strings.Count(out, "\n") != want {
			t.Fatalf("kill %d of %v: exit %d, %d runs of %d, %s", k, args, code, strings.Count(out, "\n"), want, warned)
		}
		if k%10 == 9 {
			must(t, "history", "rebuild")
			if again := must(t, "history", "list", "--json"); again != out {
				t.Fatalf("kill %d: rebuilt, the history is another", k)
			}
		}
	}
}

// logs counts the run logs that have a header.
func logs(t testing.TB) int {
	files, err := filepath.Glob(filepath.Join(store.RunsDir(store.Dir()), "*", "*.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.IndexByte(text, '\n') > 0 {
			n++
		}
	}
	return n
}

func TestLongKilledHistory(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	killAtRandom(t, 12)
}

func TestMeasureKilledHistory(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	killAtRandom(t, 200)
}
