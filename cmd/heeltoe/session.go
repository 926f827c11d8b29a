package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"

	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/evening"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type sessionCmd struct {
	practice.Choice
	More []string `arg:"" optional:"" name:"more" help:"Further drills of tonight. DRILL@BPM sets the tempo of one."`

	Landings    int64   `default:"1200" help:"Budget of landings for the whole evening, warm-up and end among them."`
	RestSeconds float64 `name:"rest-seconds" default:"60" help:"Rest between two sets, in seconds; half of it in the warm-up and at the end."`
	Quiet       bool    `help:"For quiet hours: only footings without panel-free time, one foot staying down while the other moves."`
	Layout      string  `enum:",single,double" default:"" help:"Pad of the drills that are proposed: single or double; that of the newest run unless given."`

	Window   bool `help:"Play each part in the window, where a keyboard is a pad, too."`
	PlanOnly bool `name:"plan-only" help:"Show the evening without playing it."`
	Resume   bool `help:"Go on with the evening that was cut off."`
	Anew     bool `help:"Begin another evening, though one was cut off."`
	JSON     bool `name:"json" help:"Print one JSON object: the plan, or what the evening came to; all else goes to standard error."`
}

// Help is shown by session --help.
func (c *sessionCmd) Help() string {
	return `Leads through an evening: a graded warm-up without gathered landings, tonight's drills in
turn with rests, an easy end, all within a budget of landings that you set. The budget of
1200 is only a beginning, no advice on how much is good for you. Name the drills, or have
them proposed from your history: the least steady of the last weeks, one not played for long, a
side that is neglected.

While it goes on, type p and Enter to pause and again to go on, g and Enter to end a rest, e and
Enter to end the evening. One that was cut off within the last six hours goes on with --resume.
When the scatter rises or fewer notes are inner over the sets of a drill, as happens with
tired feet, it says so and doubles the next rest.

` + view.CautionLong
}

// Run plays an evening, or shows it.
func (c *sessionCmd) Run(a *app) error {
	out := a.stdout
	if c.JSON {
		quiet := *a
		quiet.stdout, a = a.stderr, &quiet
	}
	dir := store.Dir()
	e, state, err := c.state(a, dir)
	if err != nil {
		return err
	}
	if c.PlanOnly {
		if c.JSON {
			return writeJSON(out, eveningJSON(e, state, nil))
		}
		printEvening(out, e, state)
		return nil
	}
	if c.Window && (c.Fast || c.NoLog) {
		return usagef("--window shows runs in their own time and tells how they went by their logs: leave --fast and --no-log away")
	}
	p := &eveningPlayer{dir: dir, state: state, window: c.Window, sets: sets{a: a, c: &liveCmd{Choice: c.Choice}, elsewhere: c.Window}}
	done, err := p.begin(state.Parts[0].Drill)
	if err != nil {
		return err
	}
	defer done()
	printEvening(a.stdout, e, state)
	err = p.play()
	p.sum(a.stdout)
	if c.JSON {
		err = errors.Join(err, writeJSON(out, eveningJSON(e, state, p)))
	}
	return err
}

// state gives the evening to play: a new one, with what was left out of it, or the one
// that was cut off.
func (c *sessionCmd) state(a *app, dir string) (*evening.Evening, *evening.State, error) {
	switch {
	case c.Resume && c.Anew:
		return nil, nil, usagef("--resume and --anew are two different things: give one of them")
	case c.Resume && c.Drill != "":
		return nil, nil, usagef("--resume goes on with the drills of the evening that was cut off: name none")
	case c.Drill == "" && (c.Mirror || c.Reverse || c.Within):
		return nil, nil, usagef("--mirror, --reverse and --within are of drills: name some")
	case !(c.RestSeconds >= 0 && c.RestSeconds <= 3600):
		return nil, nil, usagef("--rest-seconds: %v is not from 0 to 3600", c.RestSeconds)
	}
	var cut *evening.State
	if !c.Anew {
		var err error
		if cut, err = evening.Load(dir); err != nil {
			return nil, nil, err
		}
		if cut != nil && (cut.Next() < 0 || time.Since(cut.Touched()) > evening.Fresh) {
			cut = nil
		}
	}
	switch {
	case c.Resume && cut == nil:
		return nil, nil, usagef("there is no evening of the last %.0f hours to go on with", evening.Fresh.Hours())
	case c.Resume:
		err := cut.Resume(func(log string) (int64, error) { return wholeReps(a, log), nil })
		return &evening.Evening{}, cut, err
	case cut != nil && cut.Next() > 0 && !c.PlanOnly:
		return nil, nil, usagef("the evening of %s was cut off before part %d of %d: --resume goes on with it, --anew begins another",
			cut.Begun.Local().Format("15:04"), cut.Next()+1, len(cut.Parts))
	}
	e, err := c.lay(a)
	if err != nil {
		return nil, nil, err
	}
	return e, evening.NewState(e, time.Now()), nil
}

// wholeReps gives how many reps a log that was cut off holds: the last one that was begun
// is played again. Of a log that cannot be read it is none.
func wholeReps(a *app, log string) int64 {
	rep, err := practice.Figures(log)
	if err != nil {
		if !errors.Is(err, fs.ErrNotExist) {
			a.warn("%v; its part is played again", err)
		}
		return 0
	}
	return max(0, int64(rep.Summary.RepsBegun)-1)
}

// lay lays the evening out that the flags ask for.
func (c *sessionCmd) lay(a *app) (*evening.Evening, error) {
	windows, err := practice.ParseWindows(c.Windows)
	if err != nil {
		return nil, err
	}
	_, now, err := c.Conditions()
	if err != nil {
		return nil, err
	}
	body, err := (&practice.BodyChoice{Shoe: float64(c.Shoe), Player: c.Player, Pad: c.Pad}).Body()
	if err != nil {
		return nil, err
	}
	o := evening.Options{Budget: c.Landings, Rest: time.Duration(c.RestSeconds * float64(time.Second)), Quiet: c.Quiet,
		Body: body.Body, Windows: drill.DefaultWindows}
	if windows != nil {
		o.Windows = *windows
	}
	if c.Drill != "" {
		o.Drills, err = c.named()
	} else {
		o.Drills, err = c.proposed(a, now.Player)
	}
	if err != nil {
		return nil, err
	}
	e, err := evening.New(o)
	if err != nil {
		return nil, usagef("%v", err)
	}
	return e, nil
}

// named gives the drills that were named.
func (c *sessionCmd) named() ([]*drill.Drill, error) {
	var out []*drill.Drill
	for _, ref := range append([]string{c.Drill}, c.More...) {
		one := c.DrillChoice
		one.Drill = ref
		if at := strings.LastIndex(ref, "@"); at > 0 {
			bpm, err := strconv.ParseFloat(ref[at+1:], 64)
			if err != nil {
				return nil, usagef("%s: what follows @ is a tempo in beats a minute, such as %s@120", ref, ref[:at])
			}
			one.Drill, one.BPM = ref[:at], bpm
		}
		d, err := one.Load()
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// firsts are proposed where the history has nothing, from the library.
var firsts = map[string][]string{
	"single": {"square-walk", "run-five-lower", "corner-hook"},
	"double": {"seam-zigzag", "seam-anchor", "stair-middle-six"},
}

// proposed gives the drills that the player's history proposes, and says why each.
func (c *sessionCmd) proposed(a *app, player string) ([]*drill.Drill, error) {
	x, err := a.history()
	if err != nil {
		return nil, err
	}
	defer x.Close()
	runs, err := x.Runs(a.ctx, store.Filter{Player: player})
	if err != nil {
		return nil, err
	}
	runs = slices.DeleteFunc(runs, func(r store.Run) bool { return r.Player != player })
	layout := c.Layout
	switch {
	case layout != "":
	case len(runs) > 0:
		layout = runs[len(runs)-1].Layout
	default:
		layout = "single"
	}
	var out []*drill.Drill
	for _, p := range evening.Propose(runs, layout, time.Now()) {
		_, d, err := record.ReadHead(x.File(p.Run.Log))
		if err == nil && p.Mirror {
			d, err = d.Mirror()
		}
		if err == nil && p.Run.Planned > 0 {
			d, err = d.WithReps(p.Run.Planned)
		}
		if err == nil {
			d, err = c.Paced(d)
		}
		if err != nil {
			return nil, err
		}
		a.say("proposed: %s, %g beats a minute: %s", d.Name, d.BPM, p.Why)
		out = append(out, d)
	}
	if len(out) > 0 {
		return out, nil
	}
	a.say("proposed from the library, since the history has no run on a %s pad yet: %s", layout, strings.Join(firsts[layout], ", "))
	for _, id := range firsts[layout] {
		one := c.DrillChoice
		one.Drill = id
		d, err := one.Load()
		if err != nil {
			return nil, err
		}
		out = append(out, d)
	}
	return out, nil
}

// printEvening prints what is to be played, and what has been.
func printEvening(w io.Writer, e *evening.Evening, s *evening.State) {
	fmt.Fprintln(w)
	columns(w, "part\tkind\tdrill\tbpm\treps\tlandings\trest before", func(row func(...any)) {
		for i := range s.Parts {
			p := &s.Parts[i]
			state := ""
			if p.Done {
				state = fmt.Sprintf(" (%d played)", p.Played)
			}
			row(i+1, p.Kind, wayName(p.Drill), fmt.Sprintf("%.4g", p.Drill.BPM), fmt.Sprintf("%d%s", p.Drill.Reps, state), p.Part.Landings(), p.Rest)
		}
	})
	var landings int64
	var length time.Duration
	for i := range s.Parts {
		if p := &s.Parts[i]; !p.Done {
			landings += p.Part.Landings()
			length += p.Length() + p.Rest
		}
	}
	fmt.Fprintf(w, "To play: %d landings in about %.0f min, rests among them.\n", landings, length.Minutes())
	for _, l := range e.LeftOut {
		fmt.Fprintf(w, "left out: %s: %s\n", l.Drill.Name, l.Why)
	}
}
