package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"golang.org/x/term"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/usb"
	"heeltoe/render/page"
	"heeltoe/trainer/live"
	"heeltoe/trainer/padcheck"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/view"
)

// What a check asks for, and for how long it waits.
const (
	checkRest    = 5 * pad.Second
	checkPresses = 5
	checkTaps    = 10
	checkWait    = 15 * pad.Second
	reachPresses = 5
	reachWait    = 8 * pad.Second
)

type padsCheckCmd struct {
	Name  string `arg:"" optional:"" help:"Name of the taught pad; without it the only one, or the one used last."`
	JSON  bool   `name:"json" help:"Print one JSON object."`
	Page  string `placeholder:"FILE" help:"Write what was found as a page, too: one HTML file, to be opened in a browser."`
	Force bool   `help:"Replace a page that is there."`
	Store bool   `help:"Keep the proposed debounce, thresholds and delay, and how often the pad reports, in its profile; without it a person at a terminal is asked."`
}

// Help is shown by pads check --help.
func (c *padsCheckCmd) Help() string {
	return `About two minutes: stand off the pad, then press what is asked for. It tells how often the
pad reports, whether contacts chatter, which panels are dead, stuck or set off a neighbour,
and what that means for the figures of a run.

` + view.CautionLong
}

// checked is a guide for a taught pad; words go to standard error where JSON goes to standard output.
func checked(a *app, name string, wait pad.Time, quiet bool) (*guide, *profile.Pad, error) {
	p, err := practice.Taught(name)
	if err != nil {
		return nil, nil, err
	}
	var ids []input.Identity
	for _, d := range p.Map.Devices {
		ids = append(ids, d.Identity)
	}
	out := a.stdout
	if quiet {
		out = a.stderr
	}
	clock, _ := live.NewClock()
	return &guide{out: out, m: &p.Map, clock: clock, wait: wait, read: readReports(p.Map.Devices[0].Road, ids)}, p, nil
}

// Run leads through the check and says what it found.
func (c *padsCheckCmd) Run(a *app) error {
	if _, err := os.Lstat(c.Page); c.Page != "" && err == nil && !c.Force { // before two minutes of work
		return &pad.BadInput{File: c.Page, Msg: "is there already; --force replaces it"}
	}
	g, p, err := checked(a, c.Name, checkWait, c.JSON)
	if err != nil {
		return err
	}
	t := &padcheck.Trace{Layout: p.Map.Layout, Intervals: intervals(&p.Map)}
	fmt.Fprintln(g.out, view.Caution)
	if err := g.run(a.ctx, func(ctx context.Context) error { return g.check(ctx, t) }); err != nil {
		return err
	}
	t.Reports, t.Edges, t.Levels = g.reports, g.edges, g.levels
	return c.tell(a, g.out, p, t)
}

// tell says what was seen on a pad, writes the page that is asked for, and offers to keep
// what is proposed; out is for words to the player.
func (c *padsCheckCmd) tell(a *app, out io.Writer, p *profile.Pad, t *padcheck.Trace) error {
	f := padcheck.Check(t)
	f.Pad, f.Made = p.Name, time.Now().UTC().Truncate(time.Second)
	var err error
	if c.JSON {
		err = json.NewEncoder(a.stdout).Encode(f)
	} else {
		printFindings(a.stdout, f)
	}
	if err == nil && c.Page != "" {
		if err = a.writeFile(c.Page, c.Force, func(w io.Writer) error { return page.Pad(w, f) }); err == nil {
			fmt.Fprintf(out, "The page is %s\n", c.Page)
		}
	}
	if err != nil {
		return err
	}
	return c.keep(a, out, p, f)
}

// keep puts what is proposed into the pad's profile, if the player wants that.
func (c *padsCheckCmd) keep(a *app, out io.Writer, p *profile.Pad, f *view.PadCheck) error {
	now := *p
	now.Map.Sensors, now.Map.Devices = slices.Clone(p.Map.Sensors), slices.Clone(p.Map.Devices)
	keepFindings(&now, f)
	news := proposals(p, &now)
	if len(news) == 0 {
		fmt.Fprintln(out, "The pad's profile has all of that already.")
		return nil
	}
	fmt.Fprintln(out, "For the pad's profile:")
	for _, n := range news {
		fmt.Fprintln(out, " ", n)
	}
	if !c.Store && !(terminal(a.stdin) && !c.JSON && agreed(a, "Keep that? (y, or Enter for no): ")) {
		fmt.Fprintf(out, "Nothing is kept; heeltoe pads check %s --store keeps it.\n", profile.Slug(p.Name))
		return nil
	}
	file, err := profile.SavePad(&now)
	if err == nil {
		fmt.Fprintf(out, "kept in %s\n", file)
	}
	return err
}

// agreed asks and tells whether the answer was yes.
func agreed(a *app, question string) bool {
	fmt.Fprint(a.stdout, question)
	answer, _ := bufio.NewReader(a.stdin).ReadString('\n')
	answer = strings.ToLower(strings.TrimSpace(answer))
	return answer == "y" || answer == "yes"
}

// terminal tells whether a person may be typing.
func terminal(r io.Reader) bool {
	f, ok := r.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// proposals says in words what of a pad's profile changes from was to now.
func proposals(was, now *profile.Pad) (words []string) {
	say := func(format string, args ...any) { words = append(words, fmt.Sprintf(format, args...)) }
	if now.Debounce != was.Debounce {
		say("debounce %.0f ms instead of %.0f: runs merge a press with the one before it within that time", now.Debounce.Milliseconds(), was.Debounce.Milliseconds())
	}
	if now.Interval != was.Interval {
		say("a report every %.2f ms: runs grey what is finer than that", now.Interval.Milliseconds())
	}
	for i := range now.Map.Devices {
		if d := &now.Map.Devices[i]; d.Delay != was.Map.Devices[i].Delay {
			say("device %d comes %.1f ms late: that is taken off", i, d.Delay.Milliseconds())
		}
	}
	for i := range now.Map.Sensors {
		if s := &now.Map.Sensors[i]; *s != was.Map.Sensors[i] {
			say("%s goes down at %d and up at %d", now.Map.Layout.ID(s.Panel), s.Press, s.Release)
		}
	}
	return words
}

// intervals gives how often the devices of a map may report, as the system says.
func intervals(m *input.Map) []pad.Time {
	out := make([]pad.Time, len(m.Devices))
	if m.Devices[0].Road != input.Raw {
		return out
	}
	list, err := usb.List()
	if err != nil {
		return out
	}
	for i, d := range m.Devices {
		if found, err := usb.Find(list, d.Identity); err == nil {
			out[i] = found.Interval
		}
	}
	return out
}

// check asks for all that a check needs.
func (g *guide) check(ctx context.Context, t *padcheck.Trace) error {
	l := g.m.Layout
	ask := func(kind, words string, asked int, rest pad.Time, panels ...pad.Panel) error {
		from, to, err := g.phase(ctx, words, pad.SetOf(panels...), asked, rest)
		t.Phases = append(t.Phases, padcheck.Phase{Kind: kind, Panels: panels, Asked: asked, From: from, To: to})
		return err
	}
	if err := ask(padcheck.Rest, "Stand off the pad and touch nothing.", 0, checkRest); err != nil {
		return err
	}
	for i := range l.Panels {
		p := pad.Panel(i)
		if err := ask(padcheck.Press, fmt.Sprintf("Press %s %d times, alone, and let it go each time.", l.ID(p), checkPresses), checkPresses, 0, p); err != nil {
			return err
		}
	}
	c, ok := l.Lookup("c")
	if !ok {
		c, _ = l.Lookup("1c")
	}
	other := c - 1 // the panel before the centre, of the same pad
	if err := ask(padcheck.Taps, fmt.Sprintf("Tap %s %d times, as quickly as you can.", l.ID(c), checkTaps), checkTaps, 0, c); err != nil {
		return err
	}
	words := fmt.Sprintf("Step from %s to %s and back, %d steps, each foot down before the other goes up.", l.ID(other), l.ID(c), checkTaps)
	if err := ask(padcheck.Overlaps, words, checkTaps, 0, other, c); err != nil {
		return err
	}
	if len(g.m.Devices) < 2 {
		return nil
	}
	a, ok1 := l.Lookup("1ne")
	b, ok2 := l.Lookup("2nw")
	if !ok1 || !ok2 {
		return nil
	}
	words = fmt.Sprintf("Strike %s and %s at once, with one foot across the seam, %d times.", l.ID(a), l.ID(b), checkTaps)
	return ask(padcheck.Seam, words, 2*checkTaps, 0, a, b)
}

// keepFindings puts what a check proposes into the pad's profile.
func keepFindings(p *profile.Pad, f *view.PadCheck) {
	p.Debounce = max(p.Debounce, f.Debounce)
	if f.Finest > 0 { // else what was found before is the best there is
		p.Interval = min(f.Finest, pad.Second)
	}
	for i := range p.Map.Sensors {
		s := &p.Map.Sensors[i]
		if found := f.Panels[s.Panel]; found.Press != nil && found.Release != nil {
			s.Press, s.Release = *found.Press, *found.Release
		}
	}
	if f.Seam != nil && f.Seam.Strikes >= checkTaps/2 && len(p.Map.Devices) == 2 {
		// What was seen is beyond the delays that were taken off already; of the two
		// pads the one that comes sooner has none.
		first, second := &p.Map.Devices[0].Delay, &p.Map.Devices[1].Delay
		late := *second - *first + f.Seam.Delay
		*first, *second = min(max(-late, 0), input.MaxDelay), min(max(late, 0), input.MaxDelay)
	}
}

func printFindings(w io.Writer, f *view.PadCheck) {
	for i, d := range f.Devices {
		how := fmt.Sprintf("jitter %.2f ms, worst %.2f ms", d.Jitter.Milliseconds(), d.Worst.Milliseconds())
		if d.Told {
			how = "as the system says; it reports changes only"
		}
		fmt.Fprintf(w, "device %d   a report every %.2f ms (%s); it spreads a press by %.2f ms\n", i, d.Interval.Milliseconds(), how, d.Quantisation.Milliseconds())
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "panel\tpresses\tof\tchatter\tlongest ms\tsets off\tthresholds\t")
	for _, p := range f.Panels {
		with, levels := strings.Join(p.Fires, ","), "–"
		if with == "" {
			with = "–"
		}
		if p.Press != nil {
			levels = fmt.Sprintf("%d / %d", *p.Press, *p.Release)
		}
		fmt.Fprintf(tw, "%s\t%d\t%d\t%d\t%.1f\t%s\t%s\t\n", p.Panel, p.Presses, p.Asked, p.Chatter, p.Bounce.Milliseconds(), with, levels)
	}
	_ = tw.Flush() // what it writes to tells of its own errors
	fmt.Fprintf(w, "taps       %d of %d seen\n", f.Taps, f.Tapped)
	if f.Overlap != nil {
		fmt.Fprintf(w, "overlap    %.1f ms was the shortest that was seen\n", f.Overlap.Milliseconds())
	}
	for _, v := range f.Verdict {
		fmt.Fprintln(w, v)
	}
	fmt.Fprintln(w, "What that means for the figures of a run:")
	for _, m := range f.Means {
		fmt.Fprintln(w, " ", m)
	}
}

type padsReachCmd struct {
	Name   string `arg:"" optional:"" help:"Name of the taught pad; without it the only one, or the one used last."`
	JSON   bool   `name:"json" help:"Print one JSON object."`
	Player string `help:"Whose feet are measured; the last player unless given."`
	Shoe   int64  `placeholder:"MM" help:"Length of the shoes' outsole in mm; the one that is kept unless given."`
}

// Help is shown by pads reach --help.
func (c *padsReachCmd) Help() string {
	return `For each foot and each pair of panels: press both at once, with one foot, as often as asked.
What you cannot reach, leave: after a few seconds the next is asked for. The result goes into
the pad's profile, and heeltoe plan goes by it before it goes by its model of the foot. It is of
these feet in these shoes: with others it is left out.

` + view.CautionLong
}

// Run leads through the pairs and keeps what was measured.
func (c *padsReachCmd) Run(a *app) error {
	if c.Shoe != 0 && (c.Shoe < profile.MinShoeMM || c.Shoe > profile.MaxShoeMM) {
		return usagef("--shoe: %d mm is not from %d to %d", c.Shoe, profile.MinShoeMM, profile.MaxShoeMM)
	}
	g, p, err := checked(a, c.Name, reachWait, c.JSON)
	if err != nil {
		return err
	}
	l := p.Map.Layout
	fmt.Fprintln(g.out, view.Caution)
	var found []profile.Reach
	err = g.run(a.ctx, func(ctx context.Context) error {
		if _, _, err := g.phase(ctx, "Stand off the pad and touch nothing.", 0, 0, input.RestTime); err != nil {
			return err
		}
		for _, foot := range []struct{ id, words string }{{"L", "left"}, {"R", "right"}} {
			for _, pair := range padcheck.Pairs(l) {
				words := fmt.Sprintf("%s foot: press %s and %s together %d times.", strings.ToUpper(foot.words[:1])+foot.words[1:], l.ID(pair[0]), l.ID(pair[1]), reachPresses)
				from, to, err := g.phase(ctx, words, pad.SetOf(pair[:]...), 2*reachPresses, 0)
				if err != nil {
					return err
				}
				g.mu.Lock()
				r := padcheck.OfReach(g.edges, pair, reachPresses, from, to)
				g.mu.Unlock()
				found = append(found, profile.Reach{Foot: foot.id, Panels: pair, Tried: r.Tried, Both: r.Both, First: r.First, Spread: r.Spread})
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	s, err := profile.LoadSettings()
	if err != nil {
		return err
	}
	p.Reach, p.ReachPlayer, p.ReachShoeMM = slices.Clone(found), s.Player, s.ShoeMM
	if c.Player != "" {
		p.ReachPlayer = c.Player
	}
	if c.Shoe != 0 {
		p.ReachShoeMM = c.Shoe
	}
	file, err := profile.SavePad(p)
	if err != nil {
		return err
	}
	if c.JSON {
		return json.NewEncoder(a.stdout).Encode(reachJSON(l, found))
	}
	for _, r := range found {
		fmt.Fprintf(a.stdout, "%s %s&%s: both %d times of %d", r.Foot, l.ID(r.Panels[0]), l.ID(r.Panels[1]), r.Both, r.Tried)
		if r.Both > 0 {
			fmt.Fprintf(a.stdout, "; %s first %d times, %.1f ms apart", l.ID(r.Panels[0]), r.First, r.Spread.Milliseconds())
		}
		fmt.Fprintln(a.stdout)
	}
	fmt.Fprintf(a.stdout, "kept in %s\n", file)
	return nil
}

// reachEntry is a foot and a pair as JSON.
type reachEntry struct {
	Foot   string    `json:"foot"`
	Panels [2]string `json:"panels"`
	Tried  int       `json:"tried"`
	Both   int       `json:"both"`
	First  int       `json:"first"`
	Spread pad.Time  `json:"spread_us"`
}

func reachJSON(l *pad.Layout, found []profile.Reach) map[string][]reachEntry {
	out := []reachEntry{}
	for _, r := range found {
		out = append(out, reachEntry{r.Foot, [2]string{l.ID(r.Panels[0]), l.ID(r.Panels[1])}, r.Tried, r.Both, r.First, r.Spread})
	}
	return map[string][]reachEntry{"reach": out}
}
