package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/google/renameio/v2"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/evdev"
	"heeltoe/input/record"
	"heeltoe/input/usb"
	"heeltoe/trainer/live"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
)

type padsCmd struct {
	List   padsListCmd   `cmd:"" help:"List what is plugged in and what has been taught."`
	Show   padsShowCmd   `cmd:"" help:"Show what was taught of a pad."`
	Teach  padsTeachCmd  `cmd:"" help:"Teach which bits of the reports are which panel, by pressing."`
	Check  padsCheckCmd  `cmd:"" help:"Check a pad: how often it reports, chatter, dead and stuck panels, and what that means."`
	Reach  padsReachCmd  `cmd:"" help:"Measure which two panels each of your feet presses at once."`
	Record padsRecordCmd `cmd:"" help:"Record the raw reports of a device."`
}

type padsListCmd struct {
	JSON bool `name:"json" help:"Print one JSON object."`
}

// Run lists devices and taught pads.
func (c *padsListCmd) Run(a *app) error {
	slugs, err := profile.Slugs()
	if err != nil {
		return err
	}
	devices, err := usb.List()
	if err != nil {
		return err
	}
	type device struct {
		Device string `json:"device"`
		Name   string `json:"name"`
		Maker  string `json:"manufacturer"`
		Closed string `json:"closed,omitempty"` // why it cannot be opened
	}
	out := struct {
		Devices []device `json:"devices"`
		Taught  []string `json:"taught"`
	}{[]device{}, append([]string{}, slugs...)}
	for _, d := range devices {
		v := device{Device: d.Identity.String(), Name: d.Name, Maker: d.Manufacturer}
		if d.Closed != nil {
			v.Closed = d.Closed.Error()
		}
		out.Devices = append(out.Devices, v)
	}
	if c.JSON {
		return json.NewEncoder(a.stdout).Encode(out)
	}
	if len(devices) == 0 {
		fmt.Fprintln(a.stdout, "plugged in: no HID device")
	}
	for _, d := range out.Devices {
		fmt.Fprintf(a.stdout, "plugged in: %s  %s %s\n", d.Device, d.Maker, d.Name)
		if d.Closed != "" {
			fmt.Fprintf(a.stdout, "            %s\n", d.Closed)
		}
	}
	if len(slugs) == 0 {
		fmt.Fprintln(a.stdout, "taught:     none; heeltoe pads teach teaches one")
	}
	for _, s := range slugs {
		fmt.Fprintf(a.stdout, "taught:     %s\n", s)
	}
	return nil
}

type padsShowCmd struct {
	Name string `arg:"" help:"Name of the pad."`
}

// Run prints a pad's panels and where they are read.
func (c *padsShowCmd) Run(a *app) error {
	p, err := profile.LoadPad(c.Name)
	if errors.Is(err, fs.ErrNotExist) {
		return usagef("%v", err)
	}
	if err != nil {
		return err
	}
	printPad(a.stdout, p)
	return nil
}

func printPad(w io.Writer, p *profile.Pad) {
	fmt.Fprintf(w, "%s: layout %s, debounce %g ms, shift %g ms\n", p.Name, p.Map.Layout.Name, p.Debounce.Milliseconds(), p.Shift.Milliseconds())
	if p.Interval > 0 {
		fmt.Fprintf(w, "a report every %g ms, as checked\n", p.Interval.Milliseconds())
	}
	for i, d := range p.Map.Devices {
		fmt.Fprintf(w, "device %d: %s %s, by %s, delay %g ms\n", i, d.Identity, d.Name, d.Road, d.Delay.Milliseconds())
	}
	for _, s := range p.Map.Sensors {
		fmt.Fprintf(w, "  %-4s %s\n", p.Map.Layout.ID(s.Panel), s)
	}
	if len(p.Reach) > 0 {
		printReach(w, p)
	}
}

// deviceFlags choose what to read.
type deviceFlags struct {
	Device []string `placeholder:"VENDOR:PRODUCT" help:"Device to read, as pads list names it; give two for a pad of two devices."`
}

// choose gives the devices asked for, or the only one there is, on a road.
func (f *deviceFlags) choose(road input.Road) ([]usb.Device, error) {
	list, err := listed(road)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 {
		return nil, practice.Lackf("no HID device is plugged in: plug the pad in, and see heeltoe pads list")
	}
	names := func() string {
		var s []string
		for _, d := range list {
			s = append(s, d.Identity.String())
		}
		return strings.Join(s, ", ")
	}
	out, err := pick(list, f.Device, names())
	if err != nil {
		return nil, err
	}
	for _, d := range out {
		if d.Closed != nil {
			return nil, d.Closed
		}
	}
	return out, nil
}

// listed gives the devices that can be heard on a road.
func listed(road input.Road) ([]usb.Device, error) {
	if road == input.Raw {
		return usb.List()
	}
	events, err := evdev.List()
	out := make([]usb.Device, len(events))
	for i, d := range events {
		out[i] = usb.Device{Identity: d.Identity, Path: d.Path, Name: d.Name, Closed: d.Closed}
	}
	return out, err
}

// pick gives the devices of list that are wanted, by their identity or its
// beginning; where none is wanted, the only joystick or game pad, or the only
// device.
func pick(list []usb.Device, wanted []string, names string) ([]usb.Device, error) {
	if len(wanted) > input.MaxDevices {
		return nil, usagef("--device: a pad is made of at most %d devices", input.MaxDevices)
	}
	var out []usb.Device
	for _, want := range wanted {
		var fits []usb.Device
		for _, d := range list {
			id := d.Identity.String()
			if id == want {
				fits = []usb.Device{d}
				break
			}
			if strings.HasPrefix(id, want+":") || strings.HasPrefix(id, want+"/") {
				fits = append(fits, d)
			}
		}
		switch {
		case len(fits) == 0:
			return nil, practice.Lackf("%s is not plugged in; there are %s", want, names)
		case len(fits) > 1:
			return nil, usagef("--device %s fits several: name one of %s in full", want, names)
		case slices.ContainsFunc(out, func(d usb.Device) bool { return d.Path == fits[0].Path }):
			return nil, usagef("--device %s is named twice", want)
		}
		out = append(out, fits[0])
	}
	if len(wanted) > 0 {
		return out, nil
	}
	for _, d := range list {
		if d.Descriptor != nil && d.Descriptor.IsController() {
			out = append(out, d)
		}
	}
	if len(out) == 0 {
		out = list
	}
	if len(out) != 1 {
		return nil, usagef("choose a device with --device: there are %s", names)
	}
	return out, nil
}

type padsTeachCmd struct {
	deviceFlags
	Name    string `default:"pad" help:"Name to keep the pad by."`
	Layout  string `default:"single" enum:"single,double" help:"single or double."`
	Road    string `default:"hid" enum:"hid,events" help:"hid reads the device's own reports; events hears what Linux makes of them: for keyboards, and where HID may not be opened."`
	Presses int    `default:"3" help:"How often each panel is pressed."`
	From    string `placeholder:"RECORDING" help:"Teach from a recording that was kept, instead of from the pad."`
	Keep    string `placeholder:"FILE" help:"Keep a recording of the teaching."`
	Propose bool   `help:"Press nothing: take the buttons in the order in which the device's report descriptor has them. Where that can be read, on Linux."`
	Force   bool   `help:"Replace what was taught by this name."`
}

// Help is shown by pads teach --help.
func (c *padsTeachCmd) Help() string {
	return `First nobody stands on the pad for a few seconds. Then each panel is asked for in turn:
press it, alone, as often as asked, and let it go. What follows the press is taken for
the panel; what is not certain is refused, with what to do about it.`
}

// Run teaches a pad and keeps it.
func (c *padsTeachCmd) Run(a *app) error {
	layout, _ := pad.ByName(c.Layout)
	if c.Presses < 1 || c.Presses > 20 {
		return usagef("--presses: %d is not from 1 to 20", c.Presses)
	}
	if !c.Force {
		if _, err := os.Stat(profile.PadFile(profile.Slug(c.Name))); err == nil {
			return usagef("a pad %q has been taught already; --force replaces it, --name names another", c.Name)
		}
	}
	if c.Keep != "" && !c.Force {
		if _, err := os.Lstat(c.Keep); err == nil {
			return &pad.BadInput{File: c.Keep, Msg: "is there already; --force replaces it"}
		}
	}
	if c.Keep != "" && c.From != "" {
		return usagef("--keep records what is taught from the pad; --from has a recording already")
	}
	if c.Propose && (c.Keep != "" || c.Road != "hid") {
		return usagef("--propose reads no reports: it goes without --keep and --road")
	}
	m, remarks, err := c.taught(a, layout)
	if err != nil {
		return err
	}
	p := &profile.Pad{Name: c.Name, Map: *m}
	file, err := profile.SavePad(p)
	if err != nil {
		return err
	}
	for _, r := range remarks {
		fmt.Fprintln(a.stderr, "remark:", r)
	}
	printPad(a.stdout, p)
	fmt.Fprintf(a.stdout, "kept in %s\n", file)
	return nil
}

// taught gives the map, by pressing or as it is proposed, with remarks about it.
func (c *padsTeachCmd) taught(a *app, layout *pad.Layout) (*input.Map, []string, error) {
	if c.Propose {
		m, err := c.proposed(layout)
		return m, []string{"nothing was pressed: panels may be named in another order than the pad has them; press each in 'heeltoe pads check', or teach it without --propose"}, err
	}
	t := input.NewTeacher(layout, c.Presses)
	var devices []input.Device
	var err error
	if c.From != "" {
		devices, err = c.fromRecording(t, layout)
	} else {
		devices, err = c.fromPad(a, t, layout)
	}
	if err != nil {
		return nil, nil, err
	}
	m, remarks, err := t.Map(devices)
	if err != nil {
		return nil, nil, c.refused(err)
	}
	return m, remarks, nil
}

// refused is why no map was made, of the recording where there is one.
func (c *padsTeachCmd) refused(err error) error {
	if c.From != "" {
		return &pad.BadInput{File: c.From, Msg: err.Error()}
	}
	return usagef("%v", err)
}

// proposed gives the map that the devices' report descriptors propose.
func (c *padsTeachCmd) proposed(layout *pad.Layout) (*input.Map, error) {
	var h record.ReportHeader
	if c.From != "" {
		rr, done, err := c.recording(layout)
		if err != nil {
			return nil, err
		}
		defer done()
		h = rr.Header
	} else {
		found, err := c.choose(input.Raw)
		if err != nil {
			return nil, err
		}
		h = reportHeader(found, layout.Name)
	}
	descs := make([]*input.Descriptor, len(h.Devices))
	for i := range h.Devices {
		if d, err := input.ParseDescriptor(h.Devices[i].Descriptor); err == nil {
			descs[i] = d
		}
	}
	m, err := input.Propose(layout, h.Pad(), descs)
	if err != nil {
		return nil, c.refused(err)
	}
	return m, nil
}

// recording opens the recording that is taught from.
func (c *padsTeachCmd) recording(layout *pad.Layout) (rr *record.ReportReader, done func() error, err error) {
	f, err := os.Open(c.From)
	if err != nil {
		return nil, nil, pad.FileFault(c.From, "opened", err)
	}
	rr, err = record.NewReportReader(c.From, f)
	if err == nil && rr.Header.Layout != "" && rr.Header.Layout != layout.Name {
		err = usagef("the recording is of the layout %s; say --layout %s", rr.Header.Layout, rr.Header.Layout)
	}
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return rr, f.Close, nil
}

func (c *padsTeachCmd) fromRecording(t *input.Teacher, layout *pad.Layout) ([]input.Device, error) {
	rr, done, err := c.recording(layout)
	if err != nil {
		return nil, err
	}
	defer done()
	if err := record.TeachReports(rr, t, layout); err != nil {
		return nil, err
	}
	return rr.Header.Pad(), nil
}

// fromPad asks for each panel in turn while the pad is read.
func (c *padsTeachCmd) fromPad(a *app, t *input.Teacher, layout *pad.Layout) ([]input.Device, error) {
	road := input.Road(slices.Index(input.Roads, c.Road)) // kong has checked it
	found, err := c.choose(road)
	if err != nil {
		return nil, err
	}
	h := reportHeader(found, layout.Name)
	for i, d := range found {
		if d.Descriptor != nil {
			t.Describe(i, d.Descriptor)
		}
	}
	rec, err := newRecorder(c.Keep, h)
	if err != nil {
		return nil, err
	}
	defer rec.abandon()
	clock, _ := live.NewClock()
	co := &coach{out: a.stdout, teacher: t, rec: rec, layout: layout, presses: c.Presses, clock: clock, wait: teachWait, read: readReports(road, identities(found))}
	if err := co.lead(a.ctx); err != nil {
		return nil, err
	}
	devices := h.Pad()
	for i := range devices {
		devices[i].Road = road
	}
	return devices, rec.close()
}

// readReports gives what reads the reports of devices on a road.
func readReports(road input.Road, devices []input.Identity) func(context.Context, input.Clock, func(pad.Time, int, []byte) error) error {
	if road == input.Events {
		return (&evdev.Reader{Devices: devices}).Run
	}
	return (&usb.Reader{Devices: devices}).Run
}

func identities(found []usb.Device) []input.Identity {
	var ids []input.Identity
	for _, d := range found {
		ids = append(ids, d.Identity)
	}
	return ids
}

func reportHeader(found []usb.Device, layout string) record.ReportHeader {
	h := record.ReportHeader{Layout: layout, Started: time.Now().UTC()}
	for _, d := range found {
		h.Devices = append(h.Devices, record.ReportDevice{Identity: d.Identity, Name: d.Name, Descriptor: d.Raw})
	}
	return h
}

// recorder writes a report recording that is there whole or not at all; one
// without a file does nothing.
type recorder struct {
	file *renameio.PendingFile
	w    *record.ReportWriter
	n    int
	last pad.Time
	err  error
}

// order gives t, or the time of what was written last where that is later: two
// readers stamp their reports before they take their turn.
func (r *recorder) order(t pad.Time) pad.Time {
	r.last = max(r.last, t)
	return r.last
}

func newRecorder(file string, h record.ReportHeader) (*recorder, error) {
	r := &recorder{}
	if file == "" {
		return r, nil
	}
	f, err := renameio.NewPendingFile(file, renameio.WithPermissions(0o644))
	if err != nil {
		return nil, err
	}
	if r.w, err = record.NewReportWriter(f, h); err != nil {
		f.Cleanup()
		return nil, err
	}
	r.file = f
	return r, nil
}

func (r *recorder) report(t pad.Time, device int, report []byte) {
	if r.w == nil {
		return
	}
	r.n++
	r.err = errors.Join(r.err, r.w.Report(r.order(t), device, report))
	if r.w.Buffered() > 1<<16 {
		r.err = errors.Join(r.err, r.w.Flush())
	}
}

func (r *recorder) phase(t pad.Time, name string) {
	if r.w != nil {
		r.err = errors.Join(r.err, r.w.Phase(r.order(t), name))
	}
}

func (r *recorder) close() error {
	if r.w == nil {
		return nil
	}
	if err := errors.Join(r.err, r.w.Flush()); err != nil {
		return err
	}
	return r.file.CloseAtomicallyReplace()
}

func (r *recorder) abandon() {
	if r.file != nil {
		_ = r.file.Cleanup() // does nothing once the file is in its place
	}
}

type padsRecordCmd struct {
	deviceFlags
	File    string  `arg:"" help:"Recording to write."`
	Layout  string  `enum:",single,double" default:"" help:"Layout to note in it."`
	Seconds float64 `help:"How long; without it until Enter or Ctrl-C."`
	Force   bool    `help:"Replace a file that is there."`
}

// Run records until it is told to stop.
func (c *padsRecordCmd) Run(a *app) error {
	if c.Seconds < 0 || c.Seconds > 86_400 {
		return usagef("--seconds: %v is not from 0 to 86400", c.Seconds)
	}
	if _, err := os.Lstat(c.File); err == nil && !c.Force {
		return &pad.BadInput{File: c.File, Msg: "is there already; --force replaces it"}
	}
	found, err := c.choose(input.Raw)
	if err != nil {
		return err
	}
	rec, err := newRecorder(c.File, reportHeader(found, c.Layout))
	if err != nil {
		return err
	}
	defer rec.abandon()
	ctx, cancel := context.WithCancel(a.ctx)
	defer cancel()
	if c.Seconds > 0 {
		ctx, cancel = context.WithTimeout(ctx, time.Duration(c.Seconds*float64(time.Second)))
		defer cancel()
	} else {
		fmt.Fprintln(a.stdout, "Recording; press Enter to stop.")
		go func() {
			_, _ = bufio.NewReader(a.stdin).ReadString('\n')
			cancel()
		}()
	}
	clock, _ := live.NewClock()
	r := usb.Reader{Devices: identities(found)} // a recording has no gaps: it ends where the device does
	failed := r.Run(ctx, clock, func(t pad.Time, device int, report []byte) error {
		rec.report(t, device, report)
		return nil
	})
	if err := rec.close(); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%d reports in %s\n", rec.n, c.File)
	if failed != nil {
		return practice.Lackf("%s", failed.Error()+"; what came before is kept")
	}
	return nil
}
