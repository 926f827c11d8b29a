package sound_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/render/sound"
	"heeltoe/trainer/click"
)

// asPlayer makes the test binary play clicks on the machine's device for so many
// seconds, since a process can open that once only.
const asPlayer = "HEELTOE_TEST_AS_PLAYER"

const playedBPM = 137.0 // a beat is 21,021.898 frames

func TestMain(m *testing.M) {
	if os.Getenv(asPlayer) != "" {
		os.Exit(playClicks())
	}
	os.Exit(m.Run())
}

func playClicks() int {
	seconds, err := strconv.ParseFloat(os.Getenv(asPlayer), 64)
	if err != nil {
		return 1
	}
	p := sound.Open(sound.Machine, nil)
	ctx, cancel := context.WithTimeout(context.Background(), 15*time.Second)
	defer cancel()
	status := p.Ready(ctx)
	if status.State == sound.Sounding {
		start := time.Now()
		none := int64(0)
		d, err := drill.New(drill.Spec{Name: "even", CountInBeats: &none, Layout: "single", BPM: playedBPM, PerBeat: 1, Reps: 10_000, Steps: "c"}, nil)
		if err != nil {
			return 1
		}
		s, err := click.New(d, 500*pad.Millisecond, click.Options{})
		if err != nil {
			return 1
		}
		p.Start(s, func() pad.Time { return pad.FromDuration(time.Since(start)) })
		time.Sleep(time.Duration(seconds * float64(time.Second)))
		status = p.Status()
	}
	p.Close()
	if err := json.NewEncoder(os.Stdout).Encode(status); err != nil {
		return 1
	}
	return 0
}

// play runs playClicks with ALSA as configured and gives its status and what it
// wrote to standard error.
func play(t *testing.T, conf string, seconds float64, env ...string) (sound.Status, string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), asPlayer+"="+strconv.FormatFloat(seconds, 'f', 1, 64))
	if conf != "" {
		file := filepath.Join(t.TempDir(), "asound.conf")
		if err := os.WriteFile(file, []byte(conf), 0o644); err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "ALSA_CONFIG_PATH=/usr/share/alsa/alsa.conf:"+file)
	}
	cmd.Env = append(cmd.Env, env...)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, stderr.String())
	}
	var s sound.Status
	if err := json.Unmarshal(out, &s); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return s, stderr.String()
}

// Without a device the machine's is silent, with a reason, and ALSA and JACK are kept from
// writing their own complaints to standard error.
func TestMachineWithoutDevice(t *testing.T) {
	if _, err := os.Stat("/usr/share/alsa/alsa.conf"); err != nil {
		t.Skip("not run: ALSA is not installed here")
	}
	none := "pcm.!default { type hw card 77 }\nctl.!default { type hw card 77 }\n"
	if cards, _ := os.ReadFile("/proc/asound/cards"); strings.Contains(string(cards), "[") {
		t.Skip("not run: this machine has a sound card")
	}
	// With a JACK server that is not there, too: its plug-in (Debian's libasound2-plugins) need not be installed.
	jack := `pcm.!default { type jack playback_ports { 0 "system:playback_1" 1 "system:playback_2" } }` + "\n"
	for name, conf := range map[string]string{"no card": none, "no JACK server": jack} {
		start := time.Now()
		s, stderr := play(t, conf, 0.1, "JACK_NO_START_SERVER=1", "JACK_DEFAULT_SERVER=heeltoe-no-such")
		if s.State != sound.Silent || !strings.Contains(s.Reason, "no sound device could be opened") || s.Clicks != 0 {
			t.Errorf("%s: the player is %+v", name, s)
		}
		if stderr != "" {
			t.Errorf("%s: standard error has %q", name, stderr)
		}
		t.Logf("%s: %q after %v", name, s.Reason, time.Since(start))
	}
}

// The whole way on a real audio system: the library, ALSA, and a JACK server
// whose dummy device keeps time by the system's clock (Debian's jackd2 and
// libasound2-plugins), with ALSA's file plug as a tap. The clicks in the
// recording, found by scipy's correlation, are as far apart as the tempo says.
func TestClicksThroughJack(t *testing.T) {
	const python = "/usr/bin/python3" // Debian's own, for which scipy is installed
	jackd, err := exec.LookPath("jackd")
	if err != nil || exec.Command(python, "-c", "import scipy").Run() != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("jackd or python3-scipy is missing; make test installs them")
		}
		t.Skip("not run: jackd or python3-scipy is missing; make test installs them")
	}
	dir := t.TempDir()
	server := "heeltoe-test-" + strconv.Itoa(os.Getpid())
	cmd := exec.Command(jackd, "-n", server, "-r", "-d", "dummy", "-r", strconv.Itoa(sound.SampleRate), "-p", "1024")
	var said strings.Builder
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = cmd.Process.Signal(os.Interrupt)
		_ = cmd.Wait()
		if t.Failed() {
			t.Log(said.String())
		}
	}()
	time.Sleep(time.Second) // the server has no way to say that it is there
	raw := filepath.Join(dir, "heard.raw")
	conf := fmt.Sprintf(`pcm.!default { type plug slave { pcm "tap" format FLOAT_LE rate %d channels 2 } }
pcm.tap { type file slave.pcm "server" file %q format "raw" }
pcm.server { type jack playback_ports { 0 "system:playback_1" 1 "system:playback_2" } }
`, sound.SampleRate, raw)
	seconds := 6.0
	if os.Getenv("HEELTOE_MEASURE") != "" {
		seconds = 120
	}
	// A busy machine can hold up the server itself, which is then seen as a jump;
	// a play without one is looked for, to be measured closely.
	for try := 1; ; try++ {
		s, stderr := play(t, conf, seconds, "JACK_DEFAULT_SERVER="+server, "JACK_NO_START_SERVER=1")
		if s.State != sound.Sounding {
			t.Fatalf("the player is %+v: %s", s, stderr)
		}
		out, err := exec.Command(python, "../../testdata/scipy/onsets.py", raw, "10000").Output()
		if err != nil {
			t.Fatal(err)
		}
		var onsets []int64
		if err := json.Unmarshal(out, &onsets); err != nil {
			t.Fatal(err)
		}
		ideal := 60 * sound.SampleRate / playedBPM
		var spacing []float64
		worst := 0.0
		for i := 1; i < len(onsets); i++ {
			spacing = append(spacing, float64(onsets[i]-onsets[i-1]))
			worst = max(worst, math.Abs(float64(onsets[i]-onsets[0])-ideal*float64(i)))
		}
		least := int((seconds - 1) / 60 * playedBPM)
		if len(spacing) < least-int(s.Jumps) {
			t.Fatalf("%d clicks were heard, at least %d were due; %+v", len(onsets), least, s)
		}
		slices.Sort(spacing)
		t.Logf("%d clicks; spacing %v, %v, %v frames (least, median, most) of an ideal %.3f; farthest from an even beat %.1f; device %+.1f ppm, %d jumps",
			len(onsets), spacing[0], spacing[len(spacing)/2], spacing[len(spacing)-1], ideal, worst, s.PPM, s.Jumps)
		if median := spacing[len(spacing)/2]; math.Abs(median-ideal) > 4 {
			t.Errorf("the median spacing is %v frames, want %.3f", median, ideal)
		}
		if s.Jumps == 0 {
			if spacing[0] < ideal-6 || spacing[len(spacing)-1] > ideal+6 || worst > 48 {
				t.Errorf("spacing from %v to %v frames, want %.3f; %.1f from an even beat", spacing[0], spacing[len(spacing)-1], ideal, worst)
			}
			return
		}
		if try == 3 {
			t.Log("the server was held up each time: only the median was looked at")
			return
		}
	}
}
