package practice

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/click"
	"heeltoe/trainer/live"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/store"
)

// Choice is everything that a player chooses for a run. Its tags name the flags
// of the command line, which the programs that play have in common.
type Choice struct {
	DrillChoice

	Source string `default:"auto" help:"Where presses come from: auto, pad, synth, or a file: a run log or a recording of reports. In the window also keys."`
	Pad    string `help:"Name of the taught pad (see heeltoe pads list)."`
	Fast   bool   `help:"Run through a file or the synthetic player as fast as it goes."`
	Seed   uint64 `default:"1" help:"Seed of the synthetic player."`

	Windows    string   `placeholder:"E/L,E/L,E/L" help:"Early/late bounds in ms of inner, middle and outer, such as 40/50,70/90,105/135."`
	ShiftMS    *float64 `name:"shift-ms" placeholder:"MS" help:"Subtracted from every press before it is judged, in ms; write --shift-ms=-5 for one below 0."`
	DebounceMS *float64 `name:"debounce-ms" placeholder:"MS" help:"A press within this time of its panel's release is merged with it, in ms."`

	Click Click `embed:""`

	Player string `help:"Whose run this is."`
	Shoe   int64  `placeholder:"MM" help:"Length of the shoes' outsole in mm; kept for the next run."`
	Bar    string `enum:",none,one,both" default:"" help:"Hands on the bar: none, one or both; kept for the next run."`

	// Watch, where it is not nil, is called for every run in real time before it is
	// played: it may put itself in the way of c's events and edges.
	Watch func(c *live.Config, h *record.Header) `kong:"-"`

	// Keys are the keys of a window, where there is one.
	Keys input.Source `kong:"-"`

	Out   string `placeholder:"FILE" help:"Run log to write, instead of one in the data folder."`
	NoLog bool   `name:"no-log" help:"Keep no run log."`

	// Mark says in a run's log which block of a plan it is, a store.Block as JSON; empty: of none.
	Mark string `hidden:"" help:"For the window that an evening opens."`
}

// Click is how the metronome sounds.
type Click struct {
	Sound       string  `name:"click" default:"" enum:",tick,wood,tone,off" help:"Sound of the metronome: tick, wood, tone or off; the one used last, or tick, unless given."`
	LoudnessDB  float64 `name:"loudness-db" default:"NaN" placeholder:"DB" help:"Loudness of the click in dB below full scale, -60 to 0; the one used last, or -12, unless given."`
	Subdivide   int64   `default:"1" help:"Clicks in a beat; must divide the drill's slots a beat."`
	SilentAfter int64   `name:"silent-after" default:"0" placeholder:"REPS" help:"The click falls silent after so many reps; 0: it never does."`
	SilentEvery int64   `name:"silent-every" default:"0" placeholder:"REPS" help:"One rep in so many is silent; 0: none."`
}

// Off is the name of no sound.
const Off = "off"

// The click of a player who has not chosen another.
const (
	firstSound      = "tick"
	firstLoudnessDB = -12
)

// Settle gives the click the sound and the loudness that were used last, where none is given.
func (c *Click) Settle() error {
	s, err := profile.LoadSettings()
	if err != nil {
		return err
	}
	if s.Click == "" {
		s.Click, s.LoudnessDB = firstSound, firstLoudnessDB
	}
	if c.Sound == "" {
		c.Sound = s.Click
	}
	if math.IsNaN(c.LoudnessDB) {
		c.LoudnessDB = s.LoudnessDB
	}
	return nil
}

// Keep puts the sound and the loudness into the settings, unless they are those of a
// player who has not chosen others.
func (c *Click) Keep(s *profile.Settings) {
	if s.Click != "" || c.Sound != firstSound || c.LoudnessDB != firstLoudnessDB {
		s.Click, s.LoudnessDB = c.Sound, c.LoudnessDB
	}
}

// Options gives the clicks of a run, of which so many reps were played in earlier parts.
func (c *Click) Options(before int64) click.Options {
	return click.Options{Subdivide: c.Subdivide, SilentAfter: c.SilentAfter, SilentEvery: c.SilentEvery, Before: before}
}

// ParseWindows reads E/L,E/L,E/L in milliseconds; nil stands for an empty text.
func ParseWindows(s string) (*drill.Windows, error) {
	if s == "" {
		return nil, nil
	}
	parts := strings.Split(s, ",")
	if len(parts) != 3 {
		return nil, Wrongf("--windows takes three pairs early/late in ms, such as 40/50,70/90,105/135")
	}
	var w drill.Windows
	for i, p := range parts {
		e, l, ok := strings.Cut(p, "/")
		early, err1 := strconv.ParseFloat(strings.TrimSpace(e), 64)
		late, err2 := strconv.ParseFloat(strings.TrimSpace(l), 64)
		if !ok || err1 != nil || err2 != nil || !(early >= 0 && early < 1e4) || !(late >= 0 && late < 1e4) {
			return nil, Wrongf("--windows: %q is not early/late in ms, both 0 or above", p)
		}
		w[i] = drill.Bound{Early: -Micros(early), Late: Micros(late)}
	}
	if err := w.Check(); err != nil {
		return nil, Wrongf("--windows: %v", err)
	}
	return &w, nil
}

// WindowsText writes windows as ParseWindows reads them.
func WindowsText(w *drill.Windows) string {
	var parts [3]string
	for i, b := range w {
		parts[i] = fmt.Sprintf("%g/%g", -b.Early.Milliseconds(), b.Late.Milliseconds())
	}
	return strings.Join(parts[:], ",")
}

// Micros gives a figure in milliseconds as a Time, to the nearest microsecond.
func Micros(ms float64) pad.Time {
	if ms < 0 {
		return -Micros(-ms)
	}
	return pad.Time(ms*1000 + 0.5)
}

// Lead gives the moment of the first note: half a second, then the count-in.
func Lead(d *drill.Drill) pad.Time {
	g := d.Grid(0)
	return 500*pad.Millisecond + g.Due(0, d.CountIn()*d.PerBeat)
}

// Header gives the header of the run's log, as far as c, d and src say.
func (c *Choice) Header(d *drill.Drill, src *Source) (record.Header, error) {
	h := record.Header{Layout: d.Layout.Name, Lead: Lead(d), Drill: d.Spec,
		Shift: src.Shift, Debounce: src.Debounce, Pad: src.Pad}
	var err error
	if h.Windows, err = ParseWindows(c.Windows); err != nil {
		return h, err
	}
	if src.Fineness > 0 {
		h.Extra = append(h.Extra, reported(src.Fineness))
	}
	if src.Lead != nil {
		h.Lead = *src.Lead
	}
	if c.ShiftMS != nil {
		h.Shift = Micros(*c.ShiftMS)
	}
	if c.DebounceMS != nil {
		h.Debounce = Micros(*c.DebounceMS)
	}
	if c.Mark != "" {
		if !json.Valid([]byte(c.Mark)) {
			return h, Wrongf("--mark: %q is no JSON", c.Mark)
		}
		h.Extra = append(h.Extra, record.Member{Key: store.BlockKey, Value: []byte(c.Mark)})
	}
	return h, nil
}

// Conditions gives the conditions of the run: what c says, else what was said
// last. What is new is kept by KeepConditions.
func (c *Choice) Conditions() (was, now profile.Settings, err error) {
	s, err := profile.LoadSettings()
	if err != nil {
		return was, now, err
	}
	was, now = *s, *s
	if c.Player != "" {
		now.Player = c.Player
	}
	if c.Shoe != 0 {
		now.ShoeMM = c.Shoe
	}
	if c.Bar != "" {
		now.Bar = c.Bar
	}
	if c.Click.Sound != "" { // it is settled
		c.Click.Keep(&now)
	}
	return was, now, nil
}

// KeepConditions writes the settings where they changed.
func KeepConditions(was, now profile.Settings) error {
	if now == was {
		return nil
	}
	if err := profile.SaveSettings(&now); err != nil {
		if pad.IsBadInput(err) {
			return err
		}
		return fmt.Errorf("the conditions cannot be kept: %w", err)
	}
	return nil
}
