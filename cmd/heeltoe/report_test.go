package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/trainer/store"
	"heeltoe/trainer/store/storetest"
)

// A player who drilled for four weeks sees on one page whether they got steadier,
// and by tempo how they did; a run is named by its log or its id.
func TestReport(t *testing.T) {
	home(t)
	t.Chdir(t.TempDir())
	plan := drilled
	plan.BPM = []float64{104, 128}
	made := weeks(t, plan)
	out := must(t, "report", "corner-hook")
	if out != "The report is corner-hook.html\n" {
		t.Errorf("said %q", out)
	}
	page := func(file string) string {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	text := page("corner-hook.html")
	for _, want := range []string{"<strong>steadier</strong>", "By tempo", "100 to below 110 beats a minute", "120 to below 130", "n 14 runs)", "ms a week ("} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on the page of the drill", want)
		}
	}
	runs := storetest.Runs(t, storetest.Index(t, store.Dir()), store.Filter{})
	byID := must(t, "report", runs[0].ID[:shortID], "--out", "-")
	byLog := must(t, "report", made[0].File, "--out", "-")
	if byID != byLog || !strings.Contains(byLog, "Every rep") {
		t.Error("a run named by its id gives another page than by its log")
	}
	must(t, "report", runs[0].ID[:shortID], runs[len(runs)-2].ID, "--out", "two.html")
	if text := page("two.html"); strings.Count(text, "Every rep: which panel was down when</figcaption>") != 2 || !strings.Contains(text, "Side by side") {
		t.Error("two runs are not side by side")
	}
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"corner-hook"}, exitInput, "--force"},
		{[]string{"no-such-drill"}, exitInput, "neither a run nor a drill"},
		{[]string{"corner-jumps"}, exitInput, "no dated run"},
		{[]string{"stair-ten", runs[0].ID}, exitInput, "two runs"},
		{[]string{runs[0].ID, "abcdef0123"}, exitInput, "no run"},
		{[]string{"none.jsonl"}, exitInput, "none.jsonl"},
		{[]string{runs[0].ID, "--out", filepath.Join("none", "x.html")}, exitInput, "--out"},
	} {
		if code, out, err := heeltoe("", append([]string{"report"}, c.args...)...); code != c.code || out != "" || !strings.Contains(err, c.says) {
			t.Errorf("report %v: exit %d, %q, %q", c.args, code, out, err)
		}
	}
	must(t, "report", "corner-hook", "--force")
}
