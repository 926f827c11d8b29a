package main

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"heeltoe/render"
)

// ls gives the names in a folder, sorted.
func ls(t *testing.T, dir string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// plan --pictures writes every footing as SVG and PNG, and a PDF with all pages, in which
// poppler (Debian poppler-utils) finds the words.
func TestPlanPictures(t *testing.T) {
	home(t)
	dir := filepath.Join(t.TempDir(), "for", "a pupil")
	out := must(t, "plan", "held-corner", "--count", "3", "--pictures", dir)
	if !strings.Contains(out, "technique") {
		t.Errorf("the tables are missing: %q", out)
	}
	var stems []string
	for _, name := range ls(t, dir) {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		stem, kind, _ := strings.Cut(name, ".")
		switch kind {
		case "png":
			img, err := png.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if r := img.Bounds(); r.Dx() != render.PageWidth || r.Dy() != render.PageHeight {
				t.Errorf("%s is %v", name, r)
			}
			stems = append(stems, stem)
		case "svg":
			d := xml.NewDecoder(bytes.NewReader(b))
			for {
				if _, err := d.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
			}
			if _, err := os.Stat(filepath.Join(dir, stem+".png")); err != nil {
				t.Error(err)
			}
		case "pdf":
		default:
			t.Errorf("%s is written, too", name)
		}
	}
	// The footing that the drill has written, and three of the plan.
	if len(stems) != 4 || !strings.HasPrefix(stems[0], "held-corner-01-") || !slices.ContainsFunc(stems, func(s string) bool { return strings.Contains(s, "-written-") }) {
		t.Fatalf("pictures: %v", stems)
	}
	slug, _, _ := strings.Cut(stems[0], "-01-")
	document := filepath.Join(dir, slug+".pdf")
	if _, err := exec.LookPath("pdftotext"); err != nil {
		if os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("pdftotext is missing: install poppler-utils")
		}
		t.Skip("pdftotext is missing: install poppler-utils")
	}
	text, err := exec.Command("pdftotext", "-layout", document, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	if pages := strings.Count(string(text), "\f"); pages != 4 {
		t.Errorf("the PDF has %d pages", pages)
	}
	for _, want := range []string{"footing written in the drill", "footing 1 of 3", "footing 3 of 3", "limits: defaults, none measured on the player", "Stop at pain or dizziness"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("%q is missing in the PDF:\n%s", want, text)
		}
	}
}

func TestLongPlanPicturesAreNotWrittenOver(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	home(t)
	dir := t.TempDir()
	args := []string{"plan", "diagonal-three", "--count", "1", "--pictures", dir}
	must(t, args...)
	names := ls(t, dir)
	old := filepath.Join(dir, names[len(names)-1])
	if err := os.WriteFile(old, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	// One file in the way, and none of the others is written.
	for _, n := range names[:len(names)-1] {
		if err := os.Remove(filepath.Join(dir, n)); err != nil {
			t.Fatal(err)
		}
	}
	code, out, errText := heeltoe("", args...)
	if code != exitInput || out != "" || !strings.HasPrefix(errText, old+":1:1: ") || !strings.Contains(errText, "--force") || len(ls(t, dir)) != 1 {
		t.Errorf("exit %d, %q, %q, %v", code, out, errText, ls(t, dir))
	}
	must(t, append(args, "--force")...)
	if b, _ := os.ReadFile(old); string(b) == "mine" || !slices.Equal(ls(t, dir), names) {
		t.Errorf("--force left %v", ls(t, dir))
	}
	// Again the same, to the byte, but for the PDF's date.
	png := slices.IndexFunc(names, func(n string) bool { return strings.HasSuffix(n, ".png") })
	before, _ := os.ReadFile(filepath.Join(dir, names[png]))
	must(t, append(args, "--force", "--json")...)
	if after, _ := os.ReadFile(filepath.Join(dir, names[png])); len(before) == 0 || !bytes.Equal(before, after) {
		t.Errorf("%s is not the same again", names[png])
	}
	must(t, append(args, "--force", "--theme", "dark")...)
	if after, _ := os.ReadFile(filepath.Join(dir, names[png])); bytes.Equal(before, after) {
		t.Errorf("%s is the same in dark", names[png])
	}

	for _, bad := range [][]string{{"--pictures", old}, {"--pictures", dir, "--write", "1", "--out", "x.toml"}, {"--pictures", dir, "--theme", "pink"}} {
		code, out, errText := heeltoe("", append([]string{"plan", "diagonal-three"}, bad...)...)
		if code != exitInput || out != "" || errText == "" {
			t.Errorf("%v: exit %d, %q, %q", bad, code, out, errText)
		}
	}
}

// A drill's name does not leave the folder, and --over is drawn as one plot.
func TestPlanOverPicture(t *testing.T) {
	home(t)
	file := filepath.Join(t.TempDir(), "d.toml")
	if err := os.WriteFile(file, []byte("name = \"../Up & away!\"\nlayout = \"single\"\nbpm = 90\nper_beat = 2\nreps = 2\nsteps = \"sw c ne .\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	must(t, "plan", file, "--over", "60..200", "--pictures", dir)
	if got := ls(t, dir); !slices.Equal(got, []string{"up-away-over.pdf", "up-away-over.png", "up-away-over.svg"}) {
		t.Errorf("%v", got)
	}
	b, err := os.ReadFile(filepath.Join(dir, "up-away-over.svg"))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"../Up &amp; away!", "from 60 to 200 bpm", "not measured", "bpm: double-step, "} {
		if !strings.Contains(string(b), want) {
			t.Errorf("%q is missing", want)
		}
	}
}
