package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"reflect"
	"strings"
	"text/tabwriter"

	"github.com/google/renameio/v2"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/input/synth"
	"heeltoe/trainer/practice"
)

type synthCmd struct {
	practice.DrillChoice
	Seed  uint64 `default:"1" help:"Seed of the chance; the same seed gives the same run."`
	Out   string `placeholder:"FILE" help:"Run log to write, instead of standard output."`
	Force bool   `help:"Replace a file that is there."`

	Habits synthHabits `embed:"" group:"Habits of the player"`
}

// synthHabits are the parameters of the synthetic player, by the same names;
// what is not given stays at its default.
type synthHabits struct {
	ClockSDMS         *float64 `name:"clock-sd-ms" placeholder:"MS" help:"SD of the inner clock's intervals."`
	MotorSDMS         *float64 `name:"motor-sd-ms" placeholder:"MS" help:"SD of the delay from clock to foot."`
	PhaseCorrection   *float64 `name:"phase-correction" placeholder:"SHARE" help:"Share of an offset that the next landing takes back, above 0 and below 2."`
	MeanAsynchronyMS  *float64 `name:"mean-asynchrony-ms" placeholder:"MS" help:"Mean offset; negative is early."`
	DwellMeanMS       *float64 `name:"dwell-mean-ms" placeholder:"MS" help:"How long a panel stays down where nothing ends it."`
	DwellSDMS         *float64 `name:"dwell-sd-ms" placeholder:"MS" help:"SD of that."`
	SwingMS           *float64 `name:"swing-ms" placeholder:"MS" help:"How long before its next contact a foot leaves its panels."`
	SwingPerMetreMS   *float64 `name:"swing-per-metre-ms" placeholder:"MS" help:"What each metre of way adds to that."`
	MinDwellMS        *float64 `name:"min-dwell-ms" placeholder:"MS" help:"Shortest press."`
	BracketLeadMS     *float64 `name:"bracket-lead-ms" placeholder:"MS" help:"How long after a bracket's first panel its second comes down."`
	BracketSpreadSDMS *float64 `name:"bracket-spread-sd-ms" placeholder:"MS" help:"SD of that."`
	RollMinLagMS      *float64 `name:"roll-min-lag-ms" placeholder:"MS" help:"Shortest time between a roll's two presses."`
	RollOverlapMeanMS *float64 `name:"roll-overlap-mean-ms" placeholder:"MS" help:"How long both panels of a roll are down; below 0 for a gap."`
	RollOverlapSDMS   *float64 `name:"roll-overlap-sd-ms" placeholder:"MS" help:"SD of that."`
	StaggerSDMS       *float64 `name:"stagger-sd-ms" placeholder:"MS" help:"SD of each foot about the moment of their landing."`
	MissRate          *float64 `name:"miss-rate" placeholder:"SHARE" help:"Share of the notes left out."`
	StrayRate         *float64 `name:"stray-rate" placeholder:"SHARE" help:"Presses that no note asks for, per note."`
	ChatterRate       *float64 `name:"chatter-rate" placeholder:"SHARE" help:"Share of the presses that bounce."`
	ChatterMS         *float64 `name:"chatter-ms" placeholder:"MS" help:"How long a bounce takes at most."`
}

// Help is shown by synth --help.
func (c *synthCmd) Help() string {
	var b strings.Builder
	b.WriteString("Plays a drill as a synthetic player and writes the run log of it: with the drill's\nfooting, or by plain alternation where it has none. The habits' defaults:\n\n")
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	p := synth.Defaults()
	of, flags := reflect.ValueOf(p), reflect.TypeFor[synthHabits]()
	for i := range flags.NumField() {
		f := flags.Field(i)
		fmt.Fprintf(w, "  --%s\t%v\n", f.Tag.Get("name"), of.FieldByName(f.Name))
	}
	w.Flush()
	return b.String()
}

// params gives the player's parameters with what was given on the command line.
func (h *synthHabits) params() (synth.Params, error) {
	p := synth.Defaults()
	given, of := reflect.ValueOf(h).Elem(), reflect.ValueOf(&p).Elem()
	for i := range given.NumField() {
		if f := given.Field(i); !f.IsNil() {
			of.FieldByName(given.Type().Field(i).Name).Set(f.Elem())
		}
	}
	if err := p.Check(); err != nil {
		return p, usagef("%v", err)
	}
	return p, nil
}

// Run plays the drill and writes its log.
func (c *synthCmd) Run(a *app) error {
	d, err := c.Load()
	if err != nil {
		return err
	}
	p, err := c.Habits.params()
	if err != nil {
		return err
	}
	lead := practice.Lead(d)
	player, err := practice.Synthetic(d, lead, p, c.Seed)
	if err != nil {
		return err
	}
	h := record.Header{Layout: d.Layout.Name, Lead: lead, Drill: d.Spec, Pad: fmt.Sprintf("synthetic player, seed %d", c.Seed)}
	if c.Out == "" {
		out := bufio.NewWriterSize(a.stdout, 1<<16)
		if err := writeScript(a, out, h, player); err != nil {
			return err
		}
		return out.Flush()
	}
	if !c.Force {
		if _, err := os.Lstat(c.Out); !errors.Is(err, fs.ErrNotExist) {
			return &pad.BadInput{File: c.Out, Msg: "is there already; --force replaces it"}
		}
	}
	f, err := renameio.NewPendingFile(c.Out, renameio.WithPermissions(0o644))
	if err != nil {
		return err
	}
	defer f.Cleanup()
	if err := writeScript(a, f, h, player); err != nil {
		return err
	}
	return f.CloseAtomicallyReplace()
}

// writeScript writes a run log of a script as it comes.
func writeScript(a *app, out io.Writer, h record.Header, script input.Script) error {
	w, err := record.NewLogWriter(out, h)
	if err != nil {
		return err
	}
	for {
		e, err := script.Next()
		if err == io.EOF {
			return w.Flush()
		}
		if err != nil {
			return err
		}
		if err := w.Write(e); err != nil {
			return err
		}
		if w.Buffered() < 1<<16 {
			continue
		}
		if err := w.Flush(); err != nil {
			return err
		}
		if err := a.ctx.Err(); err != nil {
			return err
		}
	}
}
