// Package desk leads a player through a practice on the screen: choose a drill,
// play it, rest, repeat it, by keyboard, mouse or from the pad itself. It knows
// no window: it is told of keys and frames and fills the values that are drawn.
package desk

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/trainer/click"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/view"
)

// Page is what the screen shows.
type Page uint8

// Pages.
const (
	Choosing Page = iota // the sheet
	Running              // a run that goes on, is held, or is over
	Teaching             // keys for panels
	Helping              // what everything means
)

// Clicker sounds the clicks of a run.
type Clicker interface {
	// Play sounds s by the clock until Stop. It does not wait for the device.
	Play(s *click.Schedule, how practice.Click, clock input.Clock)
	Stop()
	// Status says why nothing sounds, or nothing.
	Status() string
}

// noticeFor is how long a notice stays during a run.
const noticeFor = 8 * time.Second

// Config is what a desk is made with.
type Config struct {
	Choice practice.Choice
	Keys   input.Source // the keys that stand for panels; may be nil
	Click  Clicker      // may be nil: no sound
	Begin  bool         // begin the run at once, where a drill is named
}

// Desk is the state of the practice. Its methods are for one goroutine, the one
// that draws; runs go on beside it.
type Desk struct {
	Page  Page
	Live  view.Live
	Sheet view.Desk
	Teach view.Teach
	Help  view.Help
	Done  bool // the player wants to leave

	c     Config
	sheet *sheet
	keys  profile.Keys
	focus int
	still view.Live
	back  Page // from help

	run    *running // that goes on, or nil
	held   *part    // broken off, to go on with
	rest   *rest    // listening between two runs, or nil
	last   *live.Follower
	news   chan func() // what goroutines want done by this one
	work   sync.WaitGroup
	ctx    context.Context
	stop   context.CancelFunc
	told   string // notice that is shown, and since when
	toldAt time.Time
	asks   int // panel that a key is asked for, while teaching
	got    []string
}

// running is a run that goes on.
type running struct {
	part   *part
	f      *live.Follower // nil until it has begun
	clock  input.Clock
	cancel context.CancelFunc
	pause  bool
	leave  bool // to the sheet, once it is over
}

// part is what a run is made of, for going on after a pause.
type part struct {
	p      *practice.Practice
	choice practice.Choice
	res    *live.Result
}

// New makes a desk.
func New(c Config) (*Desk, error) {
	c.Choice.Keys = c.Keys
	s, err := newSheet(c.Choice)
	if err != nil {
		return nil, err
	}
	keys, err := profile.LoadKeys()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	d := &Desk{c: c, sheet: s, keys: keys, news: make(chan func(), 64), ctx: ctx, stop: cancel, asks: -1}
	d.Help.Topics = topics()
	d.show()
	if c.Begin && c.Choice.Drill != "" {
		d.Begin()
	}
	return d, nil
}

// Close ends what goes on, keeps it, and waits for that. The pad's driver may
// take seconds to let go of an unplugged pad, so it waits no longer than limit
// for anything but the run's log.
func (d *Desk) Close(limit time.Duration) {
	d.stop()
	d.silence()
	gone := make(chan struct{})
	go func() { d.work.Wait(); close(gone) }()
	timeout := time.After(limit)
	for {
		select {
		case f := <-d.news:
			f()
		case <-gone:
			d.keep()
			return
		case <-timeout:
			d.keep()
			return
		}
	}
}

// keep keeps the settings, and the drill that was chosen, for the next time.
func (d *Desk) keep() {
	now := d.sheet.now
	if d.sheet.drill != nil && d.sheet.chosen() >= 0 {
		now.Drill = d.sheet.choice.Drill
	}
	if d.sheet.choice.Click.Sound != "" {
		d.sheet.choice.Click.Keep(&now)
	}
	if err := practice.KeepConditions(d.sheet.kept, now); err != nil {
		d.sheet.fault = err.Error()
		return
	}
	d.sheet.kept, d.sheet.now = now, now
}

// tell has f done by the drawing goroutine.
func (d *Desk) tell(f func()) {
	select {
	case d.news <- f:
	case <-d.ctx.Done():
		select { // Close may still take it
		case d.news <- f:
		default:
		}
	}
}

// notice shows a line on the run's page.
func (d *Desk) notice(format string, args ...any) { d.Live.Notice = fmt.Sprintf(format, args...) }

// Frame brings everything up to date. It is called once a frame, before drawing.
func (d *Desk) Frame() {
	for {
		select {
		case f := <-d.news:
			f()
			continue
		default:
		}
		break
	}
	if r := d.run; r != nil && r.f != nil {
		r.f.Fill(&d.Live, r.clock.Now())
	}
	if d.rest != nil {
		d.listen()
	}
	switch {
	case d.Live.Notice != d.told:
		d.told, d.toldAt = d.Live.Notice, time.Now()
	case d.run != nil && time.Since(d.toldAt) > noticeFor:
		d.Live.Notice, d.told = "", ""
	}
	if d.c.Click != nil && d.sheet.choice.Click.Sound != practice.Off {
		d.Live.Sound = d.c.Click.Status()
	}
}

// Begin begins a run of what is chosen.
func (d *Desk) Begin() {
	if d.run != nil || d.sheet.drill == nil || d.ctx.Err() != nil {
		return
	}
	d.sheet.leave(d.focus)
	if d.sheet.drill == nil {
		d.show()
		return
	}
	d.keep()
	d.Page, d.held = Running, nil
	live.Still(&d.Live, d.sheet.drill, nil)
	d.Live.Notice = ""
	d.start(&part{choice: d.sheet.choice})
}

// GoOn goes on with a run that is held.
func (d *Desk) GoOn() {
	if d.run != nil || d.held == nil {
		return
	}
	p := d.held
	if err := p.p.GoOn(p.res); err != nil {
		d.notice("%v", err)
		return
	}
	d.held = nil
	d.start(p)
}

// start plays a part on a goroutine of its own. A part with no practice yet is prepared there.
func (d *Desk) start(p *part) {
	ctx, cancel := context.WithCancel(d.ctx)
	r := &running{part: p, cancel: cancel}
	d.run = r
	settled := d.unlisten()
	drill, shoe := d.sheet.drill, d.sheet.now
	say := func(format string, args ...any) {
		d.tell(func() { d.notice(format, args...) })
	}
	d.work.Go(func() {
		defer cancel()
		settled() // the pad is let go of before it is opened again
		fail := func(err error) { d.tell(func() { d.failed(r, err) }) }
		if p.p == nil {
			src, err := p.choice.Open(drill, say)
			if err != nil {
				fail(err)
				return
			}
			h, err := p.choice.Header(drill, src)
			if err != nil {
				src.Close()
				fail(err)
				return
			}
			h.Player, h.ShoeMM, h.Bar = shoe.Player, shoe.ShoeMM, shoe.Bar
			p.p = practice.New(&p.choice, drill, src, h)
			if doubts := p.choice.Doubts(drill); doubts != "" {
				say("%s", doubts)
			}
		}
		c, err := p.p.Begin()
		if err != nil {
			fail(err)
			return
		}
		f := live.NewFollower(c, p.p.Played)
		c.Fed, c.Events = f.Fed, f.Events
		d.tell(func() { d.began(r, c, f) })
		res, err := p.p.Play(ctx, c, say)
		if err != nil {
			fail(err)
			return
		}
		rep := p.p.Report(res, c)
		d.tell(func() { d.over(r, c, res, rep) })
	})
}

// began shows a run that has begun.
func (d *Desk) began(r *running, c *live.Config, f *live.Follower) {
	notice := d.Live.Notice
	live.Still(&d.Live, c.Drill, c.Options.Windows)
	live.NoFigures(&d.Live, r.part.p.Played, r.part.p.Total, c.Drill.BPM, live.Asked(c.Drill))
	d.Live.Notice, d.Live.Source = notice, r.part.p.Source.Name
	r.f, r.clock = f, c.Clock
	d.last = f
	if d.c.Click == nil || r.part.choice.Click.Sound == practice.Off {
		return
	}
	how := r.part.choice.Click
	s, err := click.New(c.Drill, c.Options.Lead, how.Options(r.part.p.Played))
	if err != nil {
		d.notice("no click: %v", err)
		return
	}
	d.c.Click.Play(s, how, c.Clock)
}

func (d *Desk) silence() {
	if d.c.Click != nil {
		d.c.Click.Stop()
	}
}

// over takes a run that is over, or held.
func (d *Desk) over(r *running, c *live.Config, res *live.Result, rep *view.Report) {
	d.silence()
	r.f.Fill(&d.Live, r.clock.Now())
	d.run = nil
	r.part.res = res
	live.FiguresOf(&d.Live, rep, r.part.p.Played+res.Done, r.part.p.Total)
	d.Live.Phase, d.Live.Next = view.Over, d.Live.Next[:0]
	if c.Log != nil {
		d.Live.Notice = "Kept as " + c.Log.Path()
	}
	switch {
	case r.leave:
		d.Page = Choosing
		d.show()
		return
	case r.pause && res.Done < r.part.p.Drill.Reps:
		d.held = r.part
		d.Live.Phase = view.Held
	case res.Ending == live.Lost:
		d.notice("%s gave nothing more: it was unplugged or failed. What was played is kept.", d.Live.Source)
	}
	if d.ctx.Err() == nil { // not closing
		d.beginRest()
	}
}

// failed shows why a run could not be played.
func (d *Desk) failed(r *running, err error) {
	d.silence()
	d.run = nil
	d.Page = Choosing
	d.show()
	d.Sheet.Fault = err.Error()
	var bad *pad.BadInput
	if errors.As(err, &bad) {
		d.Sheet.Fault = bad.Error()
	}
}

// Pause breaks a run off, to go on later, or goes on with it.
func (d *Desk) Pause() {
	switch {
	case d.run != nil && !d.run.pause:
		d.run.pause = true
		d.run.cancel()
	case d.held != nil:
		d.GoOn()
	}
}

// End ends a run, or leaves the page.
func (d *Desk) End() {
	switch {
	case d.Page == Helping:
		d.Page = d.back
	case d.Page == Teaching:
		d.asks = -1
		d.Page = Choosing
		d.show()
	case d.run != nil:
		d.run.cancel()
	case d.Page == Running:
		d.held = nil
		d.unlisten()
		d.Page = Choosing
		d.show()
	default:
		d.Done = true
	}
}

// Again plays the same again.
func (d *Desk) Again() {
	if d.Page == Running && d.run == nil {
		d.Begin()
	}
}

// FocusLost pauses a run that goes on, since its keys go elsewhere.
func (d *Desk) FocusLost() {
	if d.run != nil && d.run.f != nil {
		d.Pause()
	}
}

// ShowHelp shows what everything means, or leaves that page.
func (d *Desk) ShowHelp() {
	if d.Page == Helping {
		d.Page = d.back
		return
	}
	d.back, d.Page = d.Page, Helping
	d.Help.Top = 0
}

// Explain shows what figure i of the run's page means, as it stands there: a grey one says why.
func (d *Desk) Explain(i int) {
	d.ShowHelp()
	f := &d.Live.Figures[i]
	for k, t := range d.Help.Topics {
		name, _, _ := strings.Cut(f.Name, ",")
		if strings.HasPrefix(t.Name, name) {
			d.Help.Top, d.Help.Topics[k].Text = k, f.Help
			return
		}
	}
}

// ScrollHelp moves the help page by n topics.
func (d *Desk) ScrollHelp(n int) {
	d.Help.Top = min(max(d.Help.Top+n, 0), len(d.Help.Topics)-1)
}

// show brings the sheet on the screen up to date.
func (d *Desk) show() {
	s := d.sheet
	v := &d.Sheet
	v.Fields = v.Fields[:0]
	for i := range fields {
		f := &fields[i]
		value, ok := s.typed[i]
		if !ok {
			value = f.value(s)
		}
		v.Fields = append(v.Fields, view.Field{Name: f.name, Value: value, Unit: f.unit, Help: f.help})
	}
	v.Focus, v.Chosen, v.Search, v.Fault = d.focus, s.chosen(), s.search, s.fault
	v.Drills = v.Drills[:0]
	for _, e := range s.entries {
		v.Drills = append(v.Drills, view.Entry{ID: e.ID, Name: e.Name, Layout: e.Layout, Purpose: e.Help})
	}
	v.Live = nil
	if s.drill != nil {
		w, _ := practice.ParseWindows(s.choice.Windows)
		live.Still(&d.still, s.drill, w)
		v.Live = &d.still
	}
}

// Focus puts field i in focus.
func (d *Desk) Focus(i int) {
	if i != d.focus {
		d.sheet.leave(d.focus)
	}
	n := len(fields)
	d.focus = ((i % n) + n) % n
	d.show()
}

// Move moves the focus by n fields.
func (d *Desk) Move(n int) { d.Focus(d.focus + n) }

// Change changes field i by n places.
func (d *Desk) Change(i, n int) {
	d.sheet.step(i, n)
	d.show()
}

// ChangeFocused changes the field in focus by n places.
func (d *Desk) ChangeFocused(n int) { d.Change(d.focus, n) }

// Pick chooses the drill at place i of the list.
func (d *Desk) Pick(i int) {
	d.Focus(fieldDrill)
	d.sheet.pick(i)
	d.show()
}

// Write takes a typed rune into the field in focus; Erase takes the last one back.
func (d *Desk) Write(r rune) {
	if d.Page == Choosing && (r != ' ' || d.focus == fieldDrill || fields[d.focus].typed != nil) {
		d.sheet.write(d.focus, r)
		d.show()
	}
}

// Erase takes the last typed rune of the field in focus back.
func (d *Desk) Erase() {
	if d.Page == Choosing {
		d.sheet.erase(d.focus)
		d.show()
	}
}
