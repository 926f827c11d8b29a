package profile_test

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/trainer/profile"
)

const attic = `name = 'attic'
layout = 'double'
debounce_us = 8000
shift_us = -1500

[[device]]
vendor = '1209'
product = '00ff'
serial = 'L'
interface = 0
name = 'left'
delay_us = 2500

[[device]]
vendor = '1209'
product = '00ff'
serial = 'R'
interface = 1
delay_us = 0

[[sensor]]
panel = '1nw'
report = 2
byte = 1
mask = 8
active = 'low'

[[sensor]]
panel = '2c'
device = 1
byte = 4
format = 's16'
press = -900
release = -300
`

func TestPadRoundTrip(t *testing.T) {
	p, err := profile.ParsePad("attic.toml", []byte(attic))
	if err != nil {
		t.Fatal(err)
	}
	want := &profile.Pad{Name: "attic", Debounce: 8000, Shift: -1500, Map: input.Map{Layout: pad.Double,
		Devices: []input.Device{
			{Identity: input.Identity{Vendor: 0x1209, Product: 0xff, Serial: "L"}, Name: "left", Delay: 2500},
			{Identity: input.Identity{Vendor: 0x1209, Product: 0xff, Serial: "R", Interface: 1}}},
		Sensors: []input.Sensor{
			{Panel: 0, Report: 2, Offset: 1, Mask: 8, ActiveLow: true},
			{Panel: 7, Device: 1, Offset: 4, Format: input.S16, Press: -900, Release: -300}}}}
	if !reflect.DeepEqual(p, want) {
		t.Errorf("got %+v, want %+v", p, want)
	}
	text, err := p.Text()
	if err != nil || string(text) != attic {
		t.Errorf("written back (%v):\n%s", err, text)
	}
}

func TestPadFaults(t *testing.T) {
	for _, c := range []struct {
		old, new  string
		line, col int
		says      string
	}{
		{"name = 'attic'\n", "", 1, 1, `"name" is missing`},
		{"'attic'", "' '", 1, 8, "not all blank"},
		{"'double'", "'round'", 2, 10, "no layout"},
		{"8000", "-1", 3, 15, "not from 0"},
		{"8000", "8.5", 3, 15, ""},
		{"shift_us = -1500", "shift_us = 99999999", 4, 12, "99999999"},
		{"shift_us", "shift", 4, 1, "unknown key"},
		{"vendor = '1209'", "vendor = '12A9'", 7, 10, "hexadecimal"},
		{"vendor = '1209'\n", "", 6, 3, `lacks the key "vendor"`},
		{"interface = 1", "interface = 300", 18, 13, "300"},
		{"2500", "-2500", 12, 12, "not from 0"},
		{"'1nw'", "'nw'", 22, 9, "not a panel"},
		{"panel = '2c'", "panel = '1nw'", 29, 9, "has a sensor already"},
		{"device = 1", "device = 2", 30, 10, "from 0 to 1"},
		{"report = 2", "report = 256", 23, 10, "256"},
		{"byte = 1", "byte = 0", 24, 8, "from 1"},
		{"byte = 4", "byte = 1023", 31, 8, "from 0 to 1022"},
		{"mask = 8", "mask = 256", 25, 8, "256"},
		{"mask = 8\n", "", 21, 3, "mask: 0 has no bit"},
		{"'low'", "'down'", 26, 10, "neither high nor low"},
		{"'s16'", "'f32'", 32, 10, "none of"},
		{"'s16'", "'bits'", 33, 9, `has no "press"`},
		{"press = -900", "press = -40000", 33, 9, "-40000"},
		{"release = -300", "release = -900", 34, 11, "must differ"},
		{"press = -900\n", "", 28, 3, `lacks the key "press"`},
		{"mask = 8", "mask = 8\npress = 1", 26, 9, `has no "press"`},
		{"'s16'", "'u8'", 33, 9, "-900"},
		{"[[device]]\nvendor = '1209'\nproduct = '00ff'\nserial = 'R'\ninterface = 1\ndelay_us = 0\n", "", 24, 10, "from 0 to 0"},
		{"name = 'attic'", "name = 'attic", 1, 14, ""},
	} {
		text := strings.Replace(attic, c.old, c.new, 1)
		if text == attic {
			t.Fatalf("%q is not in the file", c.old)
		}
		_, err := profile.ParsePad("p.toml", []byte(text))
		var b *pad.BadInput
		if !errors.As(err, &b) {
			t.Errorf("%q: got %v", c.new, err)
			continue
		}
		if max(b.Line, 1) != c.line || max(b.Col, 1) != c.col || b.File != "p.toml" || !strings.Contains(b.Msg, c.says) {
			t.Errorf("%q: got %v, want p.toml:%d:%d: …%s…", c.new, err, c.line, c.col, c.says)
		}
	}
}

// Any sound pad is read from its file as it was written.
func TestAnyPadRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &profile.Pad{Name: rapid.StringMatching(`[ -~äλ木]{1,20}`).Filter(func(s string) bool { return strings.TrimSpace(s) != "" }).Draw(t, "name"),
			Debounce: pad.Time(rapid.Int64Range(0, int64(profile.MaxDebounce)).Draw(t, "debounce")),
			Shift:    pad.Time(rapid.Int64Range(-int64(profile.MaxShift), int64(profile.MaxShift)).Draw(t, "shift")),
			Interval: pad.Time(rapid.Int64Range(0, int64(pad.Second)).Draw(t, "interval"))}
		road := input.Road(rapid.IntRange(0, 1).Draw(t, "road"))
		for _, foot := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"L", "R"}), 0, 2, rapid.ID).Draw(t, "feet") {
			tried := rapid.IntRange(1, 1000).Draw(t, "tried")
			both := rapid.IntRange(0, tried).Draw(t, "both")
			p.Reach = append(p.Reach, profile.Reach{Foot: foot, Panels: [2]pad.Panel{pad.Panel(rapid.IntRange(0, 2).Draw(t, "a")), pad.Panel(rapid.IntRange(3, 4).Draw(t, "b"))},
				Tried: tried, Both: both, First: rapid.IntRange(0, both).Draw(t, "first"), Spread: pad.Time(rapid.Int64Range(0, 1e6).Draw(t, "spread"))})
		}
		p.ReachPlayer = rapid.SampledFrom([]string{"", "Mx Example", "木"}).Draw(t, "whose feet")
		p.ReachShoeMM = rapid.SampledFrom([]int64{0, profile.MinShoeMM, 295, profile.MaxShoeMM}).Draw(t, "shoe")
		p.Map.Layout = rapid.SampledFrom([]*pad.Layout{pad.Single, pad.Double}).Draw(t, "layout")
		n := rapid.IntRange(1, 2).Draw(t, "devices")
		for range n {
			p.Map.Devices = append(p.Map.Devices, input.Device{Identity: input.Identity{
				Vendor: rapid.Uint16().Draw(t, "vendor"), Product: rapid.Uint16().Draw(t, "product"),
				Serial: rapid.StringN(0, 8, -1).Draw(t, "serial"), Interface: rapid.IntRange(0, 255).Draw(t, "interface")},
				Road: road, Name: rapid.StringN(0, 8, -1).Draw(t, "device name"), Delay: pad.Time(rapid.Int64Range(0, 1e6).Draw(t, "delay"))})
		}
		for i := range p.Map.Layout.Panels {
			s := input.Sensor{Panel: pad.Panel(i), Device: uint8(rapid.IntRange(0, n-1).Draw(t, "device")),
				Offset: rapid.IntRange(0, 1022).Draw(t, "byte"), Format: input.Format(rapid.IntRange(0, 4).Draw(t, "format"))}
			switch s.Format {
			case input.Bits:
				s.Mask, s.ActiveLow = rapid.ByteRange(1, 255).Draw(t, "mask"), rapid.Bool().Draw(t, "low")
			default:
				s.Press = rapid.Int32Range(0, 127).Draw(t, "press")
				s.Release = (s.Press + 64) % 128
			}
			p.Map.Sensors = append(p.Map.Sensors, s)
		}
		text, err := p.Text()
		if err != nil {
			t.Fatal(err)
		}
		q, err := profile.ParsePad("p.toml", text)
		if err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
		if !reflect.DeepEqual(p, q) {
			t.Fatalf("got %+v, want %+v", q, p)
		}
		if again, err := q.Text(); err != nil || string(again) != string(text) {
			t.Fatalf("written again it is\n%s, not\n%s", again, text)
		}
	})
}

// What a reach cannot be is refused with its place.
func TestBadReach(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"foot = \"X\"\npanels = [\"1nw\", \"1sw\"]\ntried = 5", "neither L nor R"},
		{"foot = \"L\"\npanels = [\"1sw\", \"1nw\"]\ntried = 5", "in the layout's order"},
		{"foot = \"L\"\npanels = [\"1nw\"]\ntried = 5", "it takes 2"},
		{"foot = \"L\"\npanels = [\"1nw\", \"1sw\"]\ntried = 5\nboth = 6", "does not go together"},
	} {
		text := strings.Replace(attic, "[[device]]", "[[reach]]\n"+c.text+"\n\n[[device]]", 1)
		if _, err := profile.ParsePad("p", []byte(text)); !pad.IsBadInput(err) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v", c.text, err)
		}
	}
}

// A foot presses a pair if it did so every second time at least; what was not measured is not said.
func TestPairs(t *testing.T) {
	p, err := profile.ParsePad("p", []byte(attic))
	if err != nil || p.Pairs() != nil {
		t.Fatalf("nothing was measured: %v, %v", p.Pairs(), err)
	}
	p.Reach = []profile.Reach{{Foot: "L", Panels: [2]pad.Panel{0, 2}, Tried: 5, Both: 3}, {Foot: "R", Panels: [2]pad.Panel{0, 2}, Tried: 5, Both: 2}}
	for foot, want := range map[pad.Foot]bool{pad.Left: true, pad.Right: false} {
		if can, measured := p.Pairs().Has(p.Map.Layout, foot, pad.SetOf(0, 2)); can != want || !measured {
			t.Errorf("foot %s: %v, %v", foot, can, measured)
		}
	}
	if _, measured := p.Pairs().Has(p.Map.Layout, pad.Left, pad.SetOf(1, 2)); measured {
		t.Error("a pair was measured that was not tried")
	}
}

func home(t *testing.T) string {
	dir := t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", dir)
	return dir
}

func TestSaveAndLoad(t *testing.T) {
	dir := home(t)
	if have, err := profile.Slugs(); err != nil || len(have) != 0 {
		t.Errorf("an empty home has %v, %v", have, err)
	}
	if _, err := profile.LoadPad("attic"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no pad: %v", err)
	}
	p, err := profile.ParsePad("p", []byte(attic))
	if err != nil {
		t.Fatal(err)
	}
	p.Name = "The Attic, No. 2"
	file, err := profile.SavePad(p)
	if err != nil || file != filepath.Join(dir, "heeltoe", "pads", "the-attic-no-2.toml") {
		t.Fatalf("saved as %s, %v", file, err)
	}
	for _, name := range []string{"The Attic, No. 2", "the-attic-no-2"} {
		if q, err := profile.LoadPad(name); err != nil || !reflect.DeepEqual(p, q) {
			t.Errorf("%s: %+v, %v", name, q, err)
		}
	}
	if have, err := profile.Slugs(); err != nil || len(have) != 1 || have[0] != "the-attic-no-2" {
		t.Errorf("slugs %v, %v", have, err)
	}
	// A pad that is not sound leaves the file as it was.
	bad := *p
	bad.Map.Sensors = nil
	if _, err := profile.SavePad(&bad); err == nil {
		t.Error("a pad without sensors was saved")
	}
	if q, err := profile.LoadPad(p.Name); err != nil || !reflect.DeepEqual(p, q) {
		t.Errorf("after that: %+v, %v", q, err)
	}
	// Nothing else lies about.
	if e, err := os.ReadDir(filepath.Dir(file)); err != nil || len(e) != 1 {
		t.Errorf("the folder holds %v, %v", e, err)
	}
	if err := os.WriteFile(file, []byte("name = 3\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := profile.LoadPad(p.Name); !pad.IsBadInput(err) {
		t.Errorf("a broken file: %v", err)
	}
}

func TestSlug(t *testing.T) {
	for name, want := range map[string]string{
		"attic": "attic", "  The  Attic! ": "the-attic", "../../etc/passwd": "etc-passwd", "A": "a",
		strings.Repeat("x", 99): strings.Repeat("x", 48), "---": profile.Slug("---"),
	} {
		if got := profile.Slug(name); got != want || profile.Slug(got) != got || got == "" {
			t.Errorf("%q gives %q, want %q", name, got, want)
		}
	}
	if a, b := profile.Slug("木"), profile.Slug("λ"); a == b || !strings.HasPrefix(a, "pad-") {
		t.Errorf("names in other scripts: %q and %q", a, b)
	}
}

func TestSettings(t *testing.T) {
	home(t)
	s, err := profile.LoadSettings()
	if err != nil || *s != (profile.Settings{}) {
		t.Fatalf("no settings: %+v, %v", s, err)
	}
	want := profile.Settings{Player: "Mx Example", Pad: "attic", ShoeMM: 295, Bar: "one", Drill: "corner.toml", Click: "wood", LoudnessDB: -20.5}
	if err := profile.SaveSettings(&want); err != nil {
		t.Fatal(err)
	}
	if s, err := profile.LoadSettings(); err != nil || *s != want {
		t.Errorf("got %+v, %v", s, err)
	}
	bad := want
	bad.Bar = "three"
	if profile.SaveSettings(&bad) == nil {
		t.Error("three hands were saved")
	}
	for text, place := range map[string]string{
		"shoe_mm = 90\n":                      "s.toml:1:11: ",
		"player = 'x'\nbar = 'two'":           "s.toml:2:7: ",
		"player = 'x'\nhat = 'two'":           "s.toml:2:1: ",
		"player = \"a\\u0007b\"\n":            "s.toml:1:10: ",
		"drill = \"a\\u0000b\"\n":             "s.toml:1:9: ",
		"player = 'x'\nplayer = 'y'":          "s.toml:2:",
		"click = 'gong'\n":                    "s.toml:1:9: ",
		"click = 'wood'\nloudness_db = 1.0\n": "s.toml:2:15: ",
		"loudness_db = nan\n":                 "s.toml:1:15: ",
	} {
		if _, err := profile.ParseSettings("s.toml", []byte(text)); !pad.IsBadInput(err) || !strings.HasPrefix(err.Error(), place) {
			t.Errorf("%q: got %v, want %s", text, err, place)
		}
	}
}

func FuzzPad(f *testing.F) {
	f.Add([]byte(attic))
	f.Add([]byte("name='a'\nlayout='single'\ndevice=[{vendor='0000',product='0000'}]\nsensor=[{panel='c',byte=0,mask=1}]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := profile.ParsePad("f", text)
		if err != nil {
			if !pad.IsBadInput(err) {
				t.Fatalf("%v is no *pad.BadInput", err)
			}
			return
		}
		once, err := p.Text()
		if err != nil {
			t.Fatal(err)
		}
		q, err := profile.ParsePad("f", once)
		if err != nil {
			t.Fatalf("%v in %q", err, once)
		}
		twice, err := q.Text()
		if err != nil || !bytes.Equal(once, twice) {
			t.Fatalf("%q became %q (%v)", once, twice, err)
		}
	})
}

func FuzzSettings(f *testing.F) {
	f.Add([]byte("player = 'x'\nshoe_mm = 300\nbar = 'both'\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := profile.ParseSettings("f", text)
		if err != nil {
			if !pad.IsBadInput(err) {
				t.Fatalf("%v is no *pad.BadInput", err)
			}
			return
		}
		once, err := s.Text()
		if err != nil {
			t.Fatal(err)
		}
		if q, err := profile.ParseSettings("f", once); err != nil || *q != *s {
			t.Fatalf("%q gives %+v, %v", once, q, err)
		}
	})
}
