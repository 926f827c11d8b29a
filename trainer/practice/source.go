package practice

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/evdev"
	"heeltoe/input/record"
	"heeltoe/input/synth"
	"heeltoe/input/usb"
	"heeltoe/judge/drill"
	"heeltoe/trainer/profile"
)

// Source is where the presses of a run come from, ready to be played.
type Source struct {
	Name     string // for the player
	Pad      string // for the run log
	Sources  []input.Source
	Script   input.Script // where the presses are known beforehand: they can be run through fast
	Hold     pad.Time     // how far behind their time edges may come
	Lead     *pad.Time    // moment of the first note, where the source fixes it
	Shift    pad.Time
	Debounce pad.Time
	Fineness pad.Fineness // of the pad, 0 where it was not checked
	close    func() error
	again    func(d *drill.Drill) (*Source, error) // opens it anew for what is left after a pause
}

// Close lets go of what was opened.
func (s *Source) Close() error {
	if s.close == nil {
		return nil
	}
	return s.close()
}

// Say tells the player something while a run is prepared or goes on.
type Say func(format string, args ...any)

// scripted makes a source of a script.
func scripted(name, padName string, s input.Script) *Source {
	return &Source{Name: name, Pad: padName, Script: s, Sources: []input.Source{&input.Paced{Script: s, Name: name}}}
}

// Open finds the source that c asks for: "auto" is the pad or, where there is
// none, the window's keys or, without a window, the synthetic player. Errors are *Wrong, *Lacking, *usb.Lacking or *pad.BadInput.
func (c *Choice) Open(d *drill.Drill, say Say) (*Source, error) {
	var src *Source
	var err error
	switch c.Source {
	case "auto":
		if src, err = Plugged(c.Pad, d.Layout, say); err == nil {
			break
		}
		if c.Pad != "" {
			return nil, err
		}
		if c.Keys != nil {
			say("No pad to play on (%v): the keys play instead.", err)
			src, err = c.keys()
			break
		}
		say("No pad to play on (%v): the synthetic player plays instead.", err)
		src, err = c.synthetic(d)
	case "pad":
		src, err = Plugged(c.Pad, d.Layout, say)
	case "keys":
		src, err = c.keys()
	case "synth":
		src, err = c.synthetic(d)
	default:
		src, err = c.recorded(d)
	}
	if err != nil {
		return nil, err
	}
	if c.Fast && src.Script == nil {
		src.Close()
		return nil, Wrongf("--fast is for a file or the synthetic player; a pad gives presses in its own time")
	}
	return src, nil
}

func (c *Choice) keys() (*Source, error) {
	if c.Keys == nil {
		return nil, Wrongf("--source keys is for the window: a terminal does not tell when a key goes up")
	}
	name := c.Keys.Describe()
	return &Source{Name: name, Pad: name, Sources: []input.Source{c.Keys}}, nil
}

func (c *Choice) synthetic(d *drill.Drill) (*Source, error) {
	p, err := Synthetic(d, Lead(d), synth.Defaults(), c.Seed)
	if err != nil {
		return nil, err
	}
	name := fmt.Sprintf("synthetic player, seed %d", c.Seed)
	o := scripted(name, name, p)
	o.again = c.synthetic
	return o, nil
}

// Synthetic gives a synthetic player of d from lead on, with d's footing; where it has
// none, with the best that the planner knows of the technique that d is to practise, or by
// plain alternation.
func Synthetic(d *drill.Drill, lead pad.Time, p synth.Params, seed uint64) (*synth.Player, error) {
	contacts := d.Footing
	if contacts == nil {
		contacts = asked(d)
	}
	return synth.New(d, contacts, lead, p, seed)
}

// asked gives the easiest footing of the technique that d is to practise, and plain
// alternation where none is asked for or none is found.
func asked(d *drill.Drill) []drill.Contact {
	const offered = 16 // footings, among which every technique that works is to be found
	if d.Technique != "" && len(d.Notes) <= footing.MaxNotes {
		if all, err := footing.Plan(d, footing.DefaultBody(), drill.DefaultWindows, footing.Filter{}, offered); err == nil {
			for _, f := range all {
				if f.Technique == d.Technique {
					return f.Contacts
				}
			}
		}
	}
	return footing.Default(d)
}

// recorded opens a run log or a recording of reports; the first line says which.
func (c *Choice) recorded(d *drill.Drill) (*Source, error) {
	f, err := os.Open(c.Source)
	if err != nil {
		return nil, pad.FileFault(c.Source, "opened", err)
	}
	var start [64]byte
	n, _ := io.ReadFull(f, start[:])
	if strings.Contains(string(start[:n]), `"heeltoe":"reports"`) {
		f.Close()
		p, err := Taught(c.Pad)
		if err != nil {
			return nil, err
		}
		if p.Map.Layout.Name != d.Layout.Name {
			return nil, Wrongf("the pad %s has the layout %s, the drill %s", p.Name, p.Map.Layout.Name, d.Layout.Name)
		}
		s, err := record.OpenReports(c.Source, &p.Map)
		if err != nil {
			return nil, err
		}
		o := scripted("the recording "+c.Source, p.Name, s)
		o.close, o.Shift, o.Debounce, o.Fineness = s.Close, p.Shift, p.Debounce, pad.Fineness(p.Interval)
		return o, nil
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		f.Close()
		return nil, pad.FileFault(c.Source, "read", err)
	}
	lr, err := record.NewLogReader(c.Source, f)
	if err == nil && lr.Drill.Layout.Name != d.Layout.Name {
		err = Wrongf("%s is of the layout %s, the drill of %s", c.Source, lr.Drill.Layout.Name, d.Layout.Name)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	o := scripted("the run log "+c.Source, lr.Header.Pad, lr)
	o.close, o.Lead, o.Shift, o.Debounce = f.Close, &lr.Header.Lead, lr.Header.Shift, lr.Header.Debounce
	return o, nil
}

// Taught gives the pad called name; without a name the one used last, or the
// only one there is.
func Taught(name string) (*profile.Pad, error) {
	if name == "" {
		s, err := profile.LoadSettings()
		if err != nil {
			return nil, err
		}
		name = s.Pad
	}
	slugs, err := profile.Slugs()
	if err != nil {
		return nil, err
	}
	if name == "" {
		switch len(slugs) {
		case 0:
			return nil, Lackf("no pad has been taught yet: plug it in and run heeltoe pads teach")
		case 1:
			name = slugs[0]
		default:
			return nil, Wrongf("name a pad with --pad: there are %s", strings.Join(slugs, ", "))
		}
	}
	p, err := profile.LoadPad(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, Wrongf("%v", err)
	}
	return p, err
}

// Plugged opens a taught pad that is plugged in and fits the layout.
func Plugged(name string, layout *pad.Layout, say Say) (*Source, error) {
	p, err := Taught(name)
	if err != nil {
		return nil, err
	}
	if p.Map.Layout.Name != layout.Name {
		return nil, Wrongf("the pad %s has the layout %s, this needs %s", p.Name, p.Map.Layout.Name, layout.Name)
	}
	told := pad.PanelSet(0)
	s, err := openPad(p.Name, &p.Map, func(panels pad.PanelSet) {
		if panels&^told != 0 {
			told |= panels
			say("down at the start: %s; counted from the next press on", layout.IDs(panels, ", "))
		}
	}, say)
	if err != nil {
		return nil, err
	}
	return &Source{Name: s.Describe(), Pad: p.Name, Sources: []input.Source{s}, Hold: p.Map.Hold(),
		Shift: p.Shift, Debounce: p.Debounce, Fineness: pad.Fineness(p.Interval)}, nil
}

// openPad opens the devices of a map on the road by which they were taught.
// Where one that was taught over HID may not be opened, the system's input
// events serve, if they carry all of its panels.
func openPad(name string, m *input.Map, held func(pad.PanelSet), say Say) (input.Source, error) {
	if m.Devices[0].Road == input.Events {
		return openEvents(name, m, held)
	}
	s, err := usb.Open(name, m)
	if err == nil {
		s.Held = held
		return s, nil
	}
	list, e := usb.List()
	if e != nil {
		return nil, err
	}
	descs := make([]*input.Descriptor, len(m.Devices))
	for i, d := range m.Devices {
		found, e := usb.Find(list, d.Identity)
		if e != nil {
			return nil, err
		}
		descs[i] = found.Descriptor
	}
	keys, e := evdev.Translate(m, descs)
	if e != nil {
		return nil, err
	}
	other, e := openEvents(name, keys, held)
	if e != nil {
		return nil, err
	}
	say("The pad cannot be opened over USB HID; it is heard through the system's input events instead.")
	return other, nil
}

func openEvents(name string, m *input.Map, held func(pad.PanelSet)) (input.Source, error) {
	s, err := evdev.Open(name, m)
	if err != nil {
		return nil, err
	}
	s.Held = held
	return s, nil
}
