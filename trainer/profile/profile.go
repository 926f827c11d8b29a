// Package profile keeps what the program must know the next time it starts: the
// pads that were taught and what was measured of the players, one file each, and the
// conditions of the last run. The files are TOML in the configuration folder of the
// XDG base directory specification; each is written whole or not at all.
package profile

import (
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/adrg/xdg"
	"github.com/google/renameio/v2/maybe"
	"github.com/pelletier/go-toml/v2"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/judge/drill/tomldoc"
	"heeltoe/trainer/filename"
)

// Limits of what the files hold.
const (
	MaxBytes     = 1 << 20 // of a file
	MaxNameBytes = 200
	MaxDebounce  = pad.Second
	MaxShift     = 10 * pad.Second // either way

	MinShoeMM, MaxShoeMM = 100, 500
)

// Pad is a pad that was taught.
type Pad struct {
	Name string
	Map  input.Map
	// Debounce merges a press with the one before it on its panel where it comes
	// within this time of that one's release; Shift is subtracted from every
	// press before matching.
	Debounce, Shift pad.Time
	// Interval is the time within which the pad cannot tell two presses apart, as
	// a check of it found; 0 where none was made.
	Interval pad.Time

	Reach       []Reach // as measured with a player's feet and shoes; each foot and pair once
	ReachPlayer string  // whose feet; empty: not said
	ReachShoeMM int64   // outsole length of the shoes, 0 where not given
}

// Pairs gives what was measured as the planner takes it, nil where nothing was. A foot can
// press a pair if it did so at least every second time that it was asked to (design value).
func (p *Pad) Pairs() *footing.Pairs {
	if len(p.Reach) == 0 {
		return nil
	}
	pairs := footing.NewPairs(p.Map.Layout)
	for _, r := range p.Reach {
		foot := pad.Left
		if r.Foot == pad.Right.String() {
			foot = pad.Right
		}
		pairs.Set(foot, r.Panels[0], r.Panels[1], r.Can())
	}
	return pairs
}

// Reach is how one foot was measured to press two panels at once. What was
// measured goes before what a model of the foot says.
type Reach struct {
	Foot   string       // L or R
	Panels [2]pad.Panel // in panel order
	Tried  int
	Both   int      // both panels went down
	First  int      // of those, how often the first of Panels led
	Spread pad.Time // median time between the two
}

// Can tells whether the foot presses the pair.
func (r *Reach) Can() bool { return 2*r.Both >= r.Tried }

// padFile is a pad's file. Its sensors say panel by panel where in the reports
// the panel is to be read, as input.Sensor does.
type padFile struct {
	Name       string `toml:"name"`
	Layout     string `toml:"layout"`
	DebounceUS int64  `toml:"debounce_us"`
	ShiftUS    int64  `toml:"shift_us"`
	IntervalUS int64  `toml:"interval_us,omitempty"`

	ReachPlayer string `toml:"reach_player,omitempty"`
	ReachShoeMM int64  `toml:"reach_shoe_mm,omitempty"`

	Device []deviceFile `toml:"device"`
	Sensor []sensorFile `toml:"sensor"`
	Reach  []reachFile  `toml:"reach,omitempty"`
}

type reachFile struct {
	Foot     string   `toml:"foot"`
	Panels   []string `toml:"panels"`
	Tried    int64    `toml:"tried"`
	Both     int64    `toml:"both"`
	First    int64    `toml:"first"`
	SpreadUS int64    `toml:"spread_us"`
}

type deviceFile struct {
	Vendor    string `toml:"vendor"` // four hexadecimal digits
	Product   string `toml:"product"`
	Serial    string `toml:"serial,omitempty"`
	Interface int64  `toml:"interface"`
	Road      string `toml:"road,omitempty"` // hid where not given
	Name      string `toml:"name,omitempty"`
	DelayUS   int64  `toml:"delay_us"`
}

type sensorFile struct {
	Panel   string `toml:"panel"`
	Device  int64  `toml:"device,omitempty"` // index of the [[device]], from 0
	Report  int64  `toml:"report,omitempty"` // ID, where reports are numbered
	Byte    int64  `toml:"byte"`
	Format  string `toml:"format,omitempty"` // bits where not given
	Mask    int64  `toml:"mask,omitempty"`
	Active  string `toml:"active,omitempty"` // high where not given
	Press   *int64 `toml:"press,omitempty"`
	Release *int64 `toml:"release,omitempty"`
}

// ParsePad reads a pad's file; file stands for it in messages. Faults are
// *pad.BadInput.
func ParsePad(file string, text []byte) (*Pad, error) {
	var f padFile
	doc, err := tomldoc.Decode(file, text, &f)
	if err != nil {
		return nil, err
	}
	for _, k := range []string{"name", "layout"} {
		if !doc.Has(k) {
			return nil, doc.Errorf(k, "the key %q is missing", k)
		}
	}
	if msg := badName(f.Name); msg != "" {
		return nil, doc.Errorf("name", "%s", msg)
	}
	layout, ok := pad.ByName(f.Layout)
	if !ok {
		return nil, doc.Errorf("layout", "there is no layout %q; the built-in ones are single and double", f.Layout)
	}
	p := &Pad{Name: f.Name, Map: input.Map{Layout: layout}, Debounce: pad.Time(f.DebounceUS), Shift: pad.Time(f.ShiftUS)}
	if p.Debounce < 0 || p.Debounce > MaxDebounce {
		return nil, doc.Errorf("debounce_us", "%d is not from 0 to %d", f.DebounceUS, MaxDebounce)
	}
	if p.Shift < -MaxShift || p.Shift > MaxShift {
		return nil, doc.Errorf("shift_us", "%d is not from %d to %d", f.ShiftUS, -MaxShift, MaxShift)
	}
	for i, d := range f.Device {
		dev, err := d.device(doc, "device."+strconv.Itoa(i)+".")
		if err != nil {
			return nil, err
		}
		p.Map.Devices = append(p.Map.Devices, dev)
	}
	for i, s := range f.Sensor {
		sensor, err := s.sensor(doc, "sensor."+strconv.Itoa(i)+".", layout)
		if err != nil {
			return nil, err
		}
		p.Map.Sensors = append(p.Map.Sensors, sensor)
	}
	if err := p.Map.Check(); err != nil {
		return nil, place(doc, err)
	}
	if p.Interval = pad.Time(f.IntervalUS); p.Interval < 0 || p.Interval > pad.Second {
		return nil, doc.Errorf("interval_us", "%d is not from 0 to %d", f.IntervalUS, pad.Second)
	}
	p.ReachPlayer, p.ReachShoeMM = f.ReachPlayer, f.ReachShoeMM
	if msg := badName(p.ReachPlayer); p.ReachPlayer != "" && msg != "" {
		return nil, doc.Errorf("reach_player", "%s", msg)
	}
	if !goodShoe(p.ReachShoeMM) {
		return nil, doc.Errorf("reach_shoe_mm", "%d is not from %d to %d", p.ReachShoeMM, MinShoeMM, MaxShoeMM)
	}
	for i, r := range f.Reach {
		reach, err := r.reach(doc, "reach."+strconv.Itoa(i), layout)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(p.Reach, func(o Reach) bool { return o.Foot == reach.Foot && o.Panels == reach.Panels }) {
			return nil, doc.Errorf("reach."+strconv.Itoa(i), "this foot and pair stand there already")
		}
		p.Reach = append(p.Reach, reach)
	}
	return p, nil
}

// maxTried is the most that a foot is asked for a pair.
const maxTried = 1000

func (r *reachFile) reach(doc *tomldoc.Doc, at string, layout *pad.Layout) (Reach, error) {
	out := Reach{Foot: r.Foot, Tried: int(r.Tried), Both: int(r.Both), First: int(r.First), Spread: pad.Time(r.SpreadUS)}
	if r.Foot != "L" && r.Foot != "R" {
		return out, doc.Errorf(at, "foot: %q is neither L nor R", r.Foot)
	}
	if len(r.Panels) != 2 {
		return out, doc.Errorf(at, "panels: %d are given, it takes 2", len(r.Panels))
	}
	for i, id := range r.Panels {
		p, ok := layout.Lookup(id)
		if !ok {
			return out, doc.Errorf(at, "panels: %q is not a panel of the layout %s", id, layout.Name)
		}
		out.Panels[i] = p
	}
	switch {
	case out.Panels[0] >= out.Panels[1]:
		return out, doc.Errorf(at, "panels: they stand in the layout's order")
	case r.Tried < 1 || r.Tried > maxTried || r.Both < 0 || r.Both > r.Tried || r.First < 0 || r.First > r.Both:
		return out, doc.Errorf(at, "of %d tried %d were both and %d began with the first: that does not go together", r.Tried, r.Both, r.First)
	case out.Spread < 0 || out.Spread > pad.Second:
		return out, doc.Errorf(at, "spread_us: %d is not from 0 to %d", r.SpreadUS, pad.Second)
	}
	return out, nil
}

// place says where in the file the fault of a map is.
func place(doc *tomldoc.Doc, err error) error {
	f, ok := err.(*input.Fault)
	if !ok {
		return doc.Errorf("", "%s", err)
	}
	key := map[string]string{"offset": "byte", "delay": "delay_us"}[f.Field]
	if key == "" {
		key = f.Field
	}
	table := ""
	switch {
	case f.Sensor >= 0:
		table = "sensor." + strconv.Itoa(f.Sensor)
	case f.Device >= 0:
		table = "device." + strconv.Itoa(f.Device)
	}
	if full := table + "." + key; doc.Has(full) {
		return doc.Errorf(full, "%s", f.Msg)
	}
	if key != "" {
		return doc.Errorf(table, "%s: %s", key, f.Msg)
	}
	return doc.Errorf(table, "%s", f.Msg)
}

func (d *deviceFile) device(doc *tomldoc.Doc, at string) (input.Device, error) {
	out := input.Device{Name: d.Name, Delay: pad.Time(d.DelayUS)}
	out.Serial = d.Serial
	for _, id := range []struct {
		key, text string
		dst       *uint16
	}{{"vendor", d.Vendor, &out.Vendor}, {"product", d.Product, &out.Product}} {
		v, err := strconv.ParseUint(id.text, 16, 16)
		switch {
		case !doc.Has(at + id.key):
			return out, doc.Errorf(strings.TrimSuffix(at, "."), "the device lacks the key %q", id.key)
		case err != nil || id.text != fmt.Sprintf("%04x", v):
			return out, doc.Errorf(at+id.key, "%q is not four hexadecimal digits in lower case, such as \"1209\"", id.text)
		}
		*id.dst = uint16(v)
	}
	if d.Interface < 0 || d.Interface > 255 {
		return out, doc.Errorf(at+"interface", "%d is not from 0 to 255", d.Interface)
	}
	out.Interface = int(d.Interface)
	if road := slices.Index(input.Roads, d.Road); road >= 0 {
		out.Road = input.Road(road)
	} else if doc.Has(at + "road") {
		return out, doc.Errorf(at+"road", "%q is none of %s", d.Road, strings.Join(input.Roads, ", "))
	}
	return out, nil
}

func (s *sensorFile) sensor(doc *tomldoc.Doc, at string, layout *pad.Layout) (input.Sensor, error) {
	table := strings.TrimSuffix(at, ".")
	var out input.Sensor
	for _, k := range []string{"panel", "byte"} {
		if !doc.Has(at + k) {
			return out, doc.Errorf(table, "the sensor lacks the key %q", k)
		}
	}
	p, ok := layout.Lookup(s.Panel)
	if !ok {
		return out, doc.Errorf(at+"panel", "%q is not a panel of the layout %s", s.Panel, layout.Name)
	}
	format := slices.Index(input.Formats, s.Format)
	if s.Format == "" && !doc.Has(at+"format") {
		format = int(input.Bits)
	}
	switch {
	case format < 0:
		return out, doc.Errorf(at+"format", "%q is none of %s", s.Format, strings.Join(input.Formats, ", "))
	case s.Device < 0 || s.Device >= input.MaxDevices:
		return out, doc.Errorf(at+"device", "%d is not from 0 to %d", s.Device, input.MaxDevices-1)
	case s.Report < 0 || s.Report > 255:
		return out, doc.Errorf(at+"report", "%d is not from 0 to 255", s.Report)
	case s.Byte < 0 || s.Byte >= input.MaxReportBytes:
		return out, doc.Errorf(at+"byte", "%d is not from 0 to %d", s.Byte, input.MaxReportBytes-1)
	case s.Mask < 0 || s.Mask > 255:
		return out, doc.Errorf(at+"mask", "%d is not from 1 to 255", s.Mask)
	case s.Active != "high" && s.Active != "low" && doc.Has(at+"active"):
		return out, doc.Errorf(at+"active", "%q is neither high nor low", s.Active)
	}
	out = input.Sensor{Panel: p, Device: uint8(s.Device), Report: uint8(s.Report), Offset: int(s.Byte),
		Format: input.Format(format), Mask: uint8(s.Mask), ActiveLow: s.Active == "low"}
	foreign := []string{"mask", "active"}
	if out.Format == input.Bits {
		foreign = []string{"press", "release"}
	}
	for _, k := range foreign {
		if doc.Has(at + k) {
			return out, doc.Errorf(at+k, "a sensor of the format %s has no %q", out.Format, k)
		}
	}
	if out.Format == input.Bits {
		return out, nil
	}
	for _, v := range []struct {
		key string
		src *int64
		dst *int32
	}{{"press", s.Press, &out.Press}, {"release", s.Release, &out.Release}} {
		switch {
		case v.src == nil:
			return out, doc.Errorf(table, "the sensor lacks the key %q", v.key)
		case *v.src < -1<<15 || *v.src > 1<<16-1:
			return out, doc.Errorf(at+v.key, "%d is not from %d to %d", *v.src, -1<<15, 1<<16-1)
		}
		*v.dst = int32(*v.src)
	}
	return out, nil
}

// goodShoe tells whether a length of shoes, 0 for none given, can be.
func goodShoe(mm int64) bool { return mm == 0 || mm >= MinShoeMM && mm <= MaxShoeMM }

// badName says what is wrong with a name, or "".
func badName(name string) string {
	switch {
	case strings.TrimSpace(name) == "" || len(name) > MaxNameBytes:
		return fmt.Sprintf("a name takes 1 to %d bytes, not all blank", MaxNameBytes)
	case strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return "a name holds no control character"
	}
	return ""
}

// Text gives the pad as a file; ParsePad of it gives an equal pad. It fails
// where the pad is not sound.
func (p *Pad) Text() ([]byte, error) {
	if msg := badName(p.Name); msg != "" {
		return nil, errors.New(msg)
	}
	if err := p.Map.Check(); err != nil {
		return nil, err
	}
	if _, ok := pad.ByName(p.Map.Layout.Name); !ok {
		return nil, fmt.Errorf("the layout %q is not built in", p.Map.Layout.Name)
	}
	f := padFile{Name: p.Name, Layout: p.Map.Layout.Name, DebounceUS: int64(p.Debounce), ShiftUS: int64(p.Shift), IntervalUS: int64(p.Interval),
		ReachPlayer: p.ReachPlayer, ReachShoeMM: p.ReachShoeMM}
	for _, r := range p.Reach {
		f.Reach = append(f.Reach, reachFile{Foot: r.Foot, Panels: []string{p.Map.Layout.ID(r.Panels[0]), p.Map.Layout.ID(r.Panels[1])},
			Tried: int64(r.Tried), Both: int64(r.Both), First: int64(r.First), SpreadUS: int64(r.Spread)})
	}
	for _, d := range p.Map.Devices {
		road := ""
		if d.Road != input.Raw {
			road = d.Road.String()
		}
		f.Device = append(f.Device, deviceFile{Road: road, Vendor: fmt.Sprintf("%04x", d.Vendor), Product: fmt.Sprintf("%04x", d.Product),
			Serial: d.Serial, Interface: int64(d.Interface), Name: d.Name, DelayUS: int64(d.Delay)})
	}
	for _, s := range p.Map.Sensors {
		e := sensorFile{Panel: p.Map.Layout.ID(s.Panel), Device: int64(s.Device), Report: int64(s.Report), Byte: int64(s.Offset)}
		if s.Format == input.Bits {
			e.Mask = int64(s.Mask)
			if s.ActiveLow {
				e.Active = "low"
			}
		} else {
			press, release := int64(s.Press), int64(s.Release)
			e.Format, e.Press, e.Release = s.Format.String(), &press, &release
		}
		f.Sensor = append(f.Sensor, e)
	}
	return toml.Marshal(f)
}

// Dir gives the program's configuration folder: heeltoe in $XDG_CONFIG_HOME, or
// where that is unset or not absolute in the system's usual place. It need not exist.
func Dir() string {
	return filename.Folder("XDG_CONFIG_HOME", xdg.ConfigHome)
}

// Slug gives the name that a pad's file has, or a player's.
func Slug(name string) string {
	h := fnv.New32a() // for a name in another script
	h.Write([]byte(name))
	return filename.Of(name, fmt.Sprintf("pad-%08x", h.Sum32()))
}

// PadFile gives the file of the pad with the slug given.
func PadFile(slug string) string { return filepath.Join(Dir(), "pads", slug+".toml") }

// SavePad writes the pad's file, whole or not at all, and gives its path.
func SavePad(p *Pad) (file string, err error) {
	text, err := p.Text()
	if err != nil {
		return "", err
	}
	file = PadFile(Slug(p.Name))
	return file, write(file, text)
}

func write(file string, text []byte) error {
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	return maybe.WriteFile(file, text, 0o600)
}

// LoadPad reads the pad called name, or whose file is called so. Where there is
// none the error wraps fs.ErrNotExist and lists what there is; a file that cannot
// be read gives a *pad.BadInput.
func LoadPad(name string) (*Pad, error) {
	slug := Slug(name)
	file := PadFile(slug)
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		have, err := Slugs()
		if err != nil {
			return nil, err
		}
		hint := "no pad has been taught; heeltoe pads teach does it"
		if len(have) > 0 {
			hint = "there are " + strings.Join(have, ", ")
		}
		return nil, fmt.Errorf("there is no pad %q: %s (%w)", name, hint, fs.ErrNotExist)
	}
	text, err := tomldoc.ReadFile(file, MaxBytes)
	if err != nil {
		return nil, err
	}
	return ParsePad(file, text)
}

// Slugs gives the slugs of all pads, sorted.
func Slugs() ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(Dir(), "pads"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries {
		if slug, ok := strings.CutSuffix(e.Name(), ".toml"); ok && Slug(slug) == slug {
			out = append(out, slug)
		}
	}
	slices.Sort(out)
	return out, nil
}
