package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"golang.org/x/term"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/input/synth"
	"heeltoe/input/usb"
	"heeltoe/judge/drill"
	"heeltoe/trainer/live"
	"heeltoe/trainer/profile"
)

// opened is where the presses of a run come from, ready to be played.
type opened struct {
	name     string // for the player
	pad      string // for the run log
	sources  []input.Source
	script   input.Script // where the source is known beforehand: for --fast
	hold     pad.Time     // how far behind their time its edges may come
	lead     *pad.Time    // moment of the first note, where the source fixes it
	shift    pad.Time
	debounce pad.Time
	close    func() error
	// again opens the source anew for what is left of a drill after a pause,
	// where it does not go on by itself.
	again func(d *drill.Drill) (*opened, error)
}

// scripted makes a source of a script.
func scripted(name, padName string, s input.Script) *opened {
	return &opened{name: name, pad: padName, script: s, sources: []input.Source{&input.Paced{Script: s, Name: name}},
		close: func() error { return nil }}
}

// open finds the source that --source and --pad ask for.
func (c *liveCmd) open(a *app, d *drill.Drill) (*opened, error) {
	var src *opened
	var err error
	switch c.Source {
	case "auto":
		if src, err = plugged(a, c.Pad, d.Layout); err == nil {
			break
		}
		if c.Pad != "" {
			return nil, err
		}
		fmt.Fprintf(a.stdout, "No pad to play on (%v): the synthetic player plays instead.\n", err)
		src, err = c.synthetic(d)
	case "pad":
		src, err = plugged(a, c.Pad, d.Layout)
	case "synth":
		src, err = c.synthetic(d)
	default:
		src, err = c.recorded(d)
	}
	if err != nil {
		return nil, err
	}
	if c.Fast && src.script == nil {
		src.close()
		return nil, usagef("--fast is for a file or the synthetic player; a pad gives presses in its own time")
	}
	return src, nil
}

func (c *liveCmd) synthetic(d *drill.Drill) (*opened, error) {
	p, err := synthPlayer(d, leadOf(d), synth.Defaults(), c.Seed)
	if err != nil {
		return nil, err
	}
	name := fmt.Sprintf("synthetic player, seed %d", c.Seed)
	o := scripted(name, name, p)
	o.again = c.synthetic
	return o, nil
}

// recorded opens a run log or a recording of reports; the first line says which.
func (c *liveCmd) recorded(d *drill.Drill) (*opened, error) {
	f, err := os.Open(c.Source)
	if err != nil {
		return nil, pad.FileFault(c.Source, "opened", err)
	}
	var start [64]byte
	n, _ := io.ReadFull(f, start[:])
	if strings.Contains(string(start[:n]), `"heeltoe":"reports"`) {
		f.Close()
		p, err := taught(c.Pad)
		if err != nil {
			return nil, err
		}
		if p.Map.Layout.Name != d.Layout.Name {
			return nil, usagef("the pad %s has the layout %s, the drill %s", p.Name, p.Map.Layout.Name, d.Layout.Name)
		}
		s, err := record.OpenReports(c.Source, &p.Map)
		if err != nil {
			return nil, err
		}
		o := scripted("the recording "+c.Source, p.Name, s)
		o.close, o.shift, o.debounce = s.Close, p.Shift, p.Debounce
		return o, nil
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		f.Close()
		return nil, pad.FileFault(c.Source, "read", err)
	}
	lr, err := record.NewLogReader(c.Source, f)
	if err == nil && lr.Drill.Layout.Name != d.Layout.Name {
		err = usagef("%s is of the layout %s, the drill of %s", c.Source, lr.Drill.Layout.Name, d.Layout.Name)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	o := scripted("the run log "+c.Source, lr.Header.Pad, lr)
	o.close, o.lead, o.shift, o.debounce = f.Close, &lr.Header.Lead, lr.Header.Shift, lr.Header.Debounce
	return o, nil
}

// taught gives the pad called name; without a name the one used last, or the
// only one there is.
func taught(name string) (*profile.Pad, error) {
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
			return nil, &lacking{"no pad has been taught yet: plug it in and run heeltoe pads teach"}
		case 1:
			name = slugs[0]
		default:
			return nil, usagef("name a pad with --pad: there are %s", strings.Join(slugs, ", "))
		}
	}
	p, err := profile.LoadPad(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, usagef("%v", err)
	}
	return p, err
}

// plugged opens a taught pad that is plugged in.
func plugged(a *app, name string, layout *pad.Layout) (*opened, error) {
	p, err := taught(name)
	if err != nil {
		return nil, err
	}
	if p.Map.Layout.Name != layout.Name {
		return nil, usagef("the pad %s has the layout %s, this needs %s", p.Name, p.Map.Layout.Name, layout.Name)
	}
	s, err := usb.Open(p.Name, &p.Map)
	if err != nil {
		return nil, err
	}
	told := pad.PanelSet(0)
	s.Held = func(panels pad.PanelSet) {
		if panels&^told != 0 {
			told |= panels
			fmt.Fprintf(a.stderr, "down at the start: %s; counted from the next press on\n", layout.IDs(panels, ", "))
		}
	}
	return &opened{name: s.Describe(), pad: p.Name, sources: []input.Source{s}, hold: p.Map.Hold(),
		shift: p.Shift, debounce: p.Debounce, close: func() error { return nil }}, nil
}

// conditions puts the conditions of the run into its header: what the flags
// say, else what was said last; a person at a terminal is asked once.
func (c *liveCmd) conditions(a *app, h *record.Header) error {
	s, err := profile.LoadSettings()
	if err != nil {
		return err
	}
	was := *s
	if c.Player != "" {
		s.Player = c.Player
	}
	if c.Shoe != 0 {
		s.ShoeMM = c.Shoe
	}
	if c.Bar != "" {
		s.Bar = c.Bar
	}
	if in, ok := a.stdin.(*os.File); ok && s.ShoeMM == 0 && s.Bar == "" && c.Source != "synth" && !c.Fast && term.IsTerminal(int(in.Fd())) {
		if err := ask(a, s); err != nil {
			return err
		}
	}
	if *s != was {
		if err := profile.SaveSettings(s); err != nil {
			if pad.IsBadInput(err) {
				return err
			}
			return fmt.Errorf("the conditions cannot be kept: %w", err)
		}
	}
	h.Player, h.ShoeMM, h.Bar = s.Player, s.ShoeMM, s.Bar
	return nil
}

// ask asks for the conditions; an empty answer leaves one open.
func ask(a *app, s *profile.Settings) error {
	in := bufio.NewReader(a.stdin)
	line := func(question string) (string, error) {
		fmt.Fprint(a.stdout, question)
		text, err := in.ReadString('\n')
		if err == io.EOF {
			err = nil
		}
		return strings.TrimSpace(text), err
	}
	for {
		text, err := line("Length of your shoes' outsole in mm (Enter to leave open): ")
		if err != nil {
			return err
		}
		mm, err := strconv.ParseInt(text, 10, 64)
		if text == "" || err == nil && mm >= profile.MinShoeMM && mm <= profile.MaxShoeMM {
			s.ShoeMM = mm
			break
		}
		fmt.Fprintf(a.stdout, "A whole number from %d to %d, please.\n", profile.MinShoeMM, profile.MaxShoeMM)
	}
	for {
		text, err := line("Hands on the bar: none, one or both (Enter to leave open): ")
		if err != nil {
			return err
		}
		if text == "" || text == "none" || text == "one" || text == "both" {
			s.Bar = text
			return nil
		}
	}
}

// stomped collects the edges of a pad until the player presses Enter.
func stomped(a *app, name string) ([]pad.Edge, *pad.Layout, error) {
	p, err := taught(name)
	if err != nil {
		return nil, nil, err
	}
	src, err := plugged(a, name, p.Map.Layout)
	if err != nil {
		return nil, nil, err
	}
	defer src.close()
	edges, err := collect(a, src.sources[0])
	return edges, p.Map.Layout, err
}

// collect reads a source until it ends, the player presses Enter or the program is told to stop.
func collect(a *app, src input.Source) ([]pad.Edge, error) {
	ctx, cancel := context.WithCancel(a.ctx)
	defer cancel()
	fmt.Fprintln(a.stdout, "Stomp the pattern slowly and evenly, then press Enter.")
	go func() {
		_, _ = bufio.NewReader(a.stdin).ReadString('\n')
		cancel()
	}()
	clock, _ := live.NewClock()
	q := input.NewQueue(1 << 16)
	if err := src.Run(ctx, clock, q); err != nil {
		return nil, &lacking{fmt.Sprintf("%s stopped: %v", src.Describe(), err)}
	}
	var edges []pad.Edge
	for e, ok := q.Get(); ok; e, ok = q.Get() {
		edges = append(edges, e)
	}
	return edges, nil
}
