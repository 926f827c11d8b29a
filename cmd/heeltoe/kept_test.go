package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/trainer/profile"
)

// clickOf plays a short run and gives how its header says that the click was set.
func clickOf(t *testing.T, flags ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "run.jsonl")
	must(t, append([]string{"live", "corner-pair", "--reps", "2", "--source", "synth", "--fast", "--text", "--out", out}, flags...)...)
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	_, sound, ok := strings.Cut(strings.SplitN(string(text), "\n", 2)[0], `"click":{"sound":"`)
	if !ok {
		t.Fatalf("the header has no click: %.300s", text)
	}
	sound, _, _ = strings.Cut(sound, `"`)
	return sound
}

// The click that was chosen is kept for the next run, with its loudness; one who never
// chose has none in the settings.
func TestClickIsKept(t *testing.T) {
	home(t)
	settings := func() profile.Settings {
		s, err := profile.LoadSettings()
		if err != nil {
			t.Fatal(err)
		}
		return *s
	}
	if got := clickOf(t); got != "tick" || settings().Click != "" {
		t.Errorf("at first it is %s, kept %+v", got, settings())
	}
	if got := clickOf(t, "--click", "wood", "--loudness-db=-20"); got != "wood" || settings().Click != "wood" || settings().LoudnessDB != -20 {
		t.Errorf("chosen is %s, kept %+v", got, settings())
	}
	if got := clickOf(t); got != "wood" || settings().LoudnessDB != -20 {
		t.Errorf("the next time it is %s, kept %+v", got, settings())
	}
	if got := clickOf(t, "--click", "off"); got != "off" || settings().LoudnessDB != -20 {
		t.Errorf("then it is %s, kept %+v", got, settings())
	}
	if code, out, errs := heeltoe("", "live", "corner-pair", "--source", "synth", "--fast", "--text", "--no-log", "--loudness-db", "3"); code != exitInput || out != "" ||
		!strings.Contains(errs, "--loudness-db: 3 is not from -60 to 0") || settings().LoudnessDB != -20 {
		t.Errorf("exit %d, %q, %q, kept %+v", code, out, errs, settings())
	}
}

// A footing that is too much for the player is said to be, by what was measured, and played all the same.
func TestLiveDoubts(t *testing.T) {
	home(t)
	play := func() string {
		return must(t, "live", "corner-pair", "--bpm", "160", "--reps", "2", "--source", "synth", "--fast", "--text", "--no-log")
	}
	if text := play(); strings.Contains(text, "too much") {
		t.Errorf("%s", text)
	}
	keepLimit(t, profile.Limit{Of: footing.LimitCycle, Time: 400 * pad.Millisecond, Reached: true})
	if text := play(); !strings.Contains(text, "By what was measured this footing is too much at 160 beats a minute: left foot again within 375 ms, needs 400 ms") ||
		!strings.Contains(text, "rep 2 of 2") {
		t.Errorf("%s", text)
	}
}
