package bench_test

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"strings"
	"time"

	"heeltoe/footing/pad"
)

// oneReached is the pad on which heeltoe pads reach is led through: it is a matter
// of the player's feet, not of how the pad reports.
func oneReached(p *guestPad) bool { return p.name == "joystick" }

// brackets is what heeltoe pads reach asks for.
var brackets = regexp.MustCompile(`^(Left|Right) foot: press (\S+) and (\S+) together (\d+) times`)

// reachable is what the feet of the trial do: the left one comes down 4 ms earlier
// on the first panel of a pair, the right one 7 ms later, and nw with ne is too
// far apart for either, which presses but one of them.
func reachable(foot string, a, b string) (first time.Duration, both bool) {
	first = 4 * time.Millisecond
	if foot == "Right" {
		first = -7 * time.Millisecond
	}
	return first, a+b != "nwne"
}

// brace gives the strokes of such a player.
func brace(line string, l *pad.Layout) []stroke {
	m := brackets.FindStringSubmatch(line)
	if m == nil {
		return nil
	}
	a, _ := l.Lookup(m[2])
	b, _ := l.Lookup(m[3])
	first, both := reachable(m[1], m[2], m[3])
	var n int
	_, _ = fmt.Sscan(m[4], &n) // it is digits
	const ms = time.Millisecond
	var out []stroke
	for k := range time.Duration(n) {
		at := 200*ms + 250*ms*k
		out = append(out, stroke{at, a, 120 * ms})
		if both {
			out = append(out, stroke{at + first, b, 120 * ms})
		}
	}
	return out
}

// reached measures the feet, and once more where that came out otherwise than the
// device pressed, as a person would: a busy host can hold up the device's thread.
func (tr *trial) reached() (string, error) {
	text, err := tr.measured()
	if err == nil {
		return text, nil
	}
	text, again := tr.measured()
	if again != nil {
		return "", fmt.Errorf("%w; and again %w", err, again)
	}
	return text + ", 2nd", nil
}

// measured: heeltoe pads reach finds which pairs each foot can press, which panel
// leads and how far apart they come.
func (tr *trial) measured() (string, error) {
	p, err := start("pads", "reach", tr.name, "--json")
	if err != nil {
		return "", err
	}
	if err := tr.converse(p, brace); err != nil {
		return "", err
	}
	code, out, errs := p.end()
	var found struct {
		Reach []struct {
			Foot                          string
			Panels                        [2]string
			Tried, Both, First, Spread_us int
		}
	}
	if err := json.Unmarshal([]byte(out), &found); err != nil || code != 0 || len(found.Reach) == 0 {
		return "", fmt.Errorf("exit %d, %v: %s%s", code, err, out, errs)
	}
	for _, r := range found.Reach {
		foot := map[string]string{"L": "Left", "R": "Right"}[r.Foot]
		first, both := reachable(foot, r.Panels[0], r.Panels[1])
		want := 0
		if both {
			want = r.Tried
		}
		leads := 0
		if both && first > 0 {
			leads = want
		}
		interval := tr.units[0].interval()
		off := time.Duration(r.Spread_us)*time.Microsecond - first.Abs()
		if r.Tried == 0 || r.Both != want || r.First != leads || both && off.Abs() > interval+most {
			return "", fmt.Errorf("found %+v; the foot leads by %v", r, first)
		}
	}
	kept, err := os.ReadFile("/home/player/config/heeltoe/pads/" + tr.name + ".toml")
	if n := strings.Count(string(kept), "[[reach]]"); err != nil || n != len(found.Reach) {
		return "", fmt.Errorf("%d pairs are kept with the pad, %v", n, err)
	}
	return fmt.Sprintf("%d pairs", len(found.Reach)), tr.givenBack()
}
