package main

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/google/renameio/v2"
	"github.com/parquet-go/parquet-go"

	"heeltoe/footing/pad"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type exportCmd struct {
	ofRuns
	Format string `default:"csv" enum:"csv,parquet" help:"csv or parquet."`
	Of     string `default:"runs" enum:"runs,notes" help:"A line for each run, or for each note of each run."`
	Feet   bool   `help:"Of notes: what the feet did too; reading them takes about half a second a run."`
	Out    string `placeholder:"FILE" help:"File to write, instead of standard output."`
	Force  bool   `help:"Replace a file that is there."`
}

// Help is shown by export --help.
func (c *exportCmd) Help() string {
	return `Writes the history for other tools. The columns of both formats have the same names;
those that end in _us are whole microseconds, shares are from 0 to 1. What is undefined
is an empty field in CSV (RFC 4180, with a line of names) and null in Parquet. outcomes has
a letter for each rep whose feet were read: g good, b bad, u unclear. Moments are
RFC 3339 in CSV and UTC timestamps in Parquet. A note is joined to its run by run = id.`
}

// runRow is a run as it is exported.
type runRow struct {
	ID         string     `parquet:"id" json:"id"`
	Started    *time.Time `parquet:"started,timestamp(microsecond)" json:"started"`
	Log        string     `parquet:"log" json:"log"`
	Drill      string     `parquet:"drill" json:"drill"`
	DrillKey   string     `parquet:"drill_key" json:"drill_key"`
	MirrorKey  string     `parquet:"mirror_key" json:"mirror_key"`
	Layout     string     `parquet:"layout" json:"layout"`
	BPM        float64    `parquet:"bpm" json:"bpm"`
	PerBeat    int64      `parquet:"per_beat" json:"per_beat"`
	Reps       int64      `parquet:"reps" json:"reps"`
	Planned    int64      `parquet:"planned_reps" json:"planned_reps"`
	Continues  bool       `parquet:"continues" json:"continues"`
	Asked      string     `parquet:"technique_asked" json:"technique_asked"`
	Footing    string     `parquet:"footing" json:"footing"`
	Technique  string     `parquet:"technique" json:"technique"`
	P          *float64   `parquet:"technique_p" json:"technique_p"`
	Outcomes   string     `parquet:"outcomes" json:"outcomes"`
	Plan       string     `parquet:"plan" json:"plan"`
	Block      int64      `parquet:"block" json:"block"`
	Way        int64      `parquet:"way" json:"way"`
	WarmUp     bool       `parquet:"warm_up" json:"warm_up"`
	Player     string     `parquet:"player" json:"player"`
	Pad        string     `parquet:"pad" json:"pad"`
	Bar        string     `parquet:"bar" json:"bar"`
	ShoeMM     int64      `parquet:"shoe_mm" json:"shoe_mm"`
	Windows    string     `parquet:"windows_us" json:"windows_us"`
	Shift      int64      `parquet:"shift_us" json:"shift_us"`
	Debounce   int64      `parquet:"debounce_us" json:"debounce_us"`
	Notes      int64      `parquet:"notes" json:"notes"`
	Inner      int64      `parquet:"inner" json:"inner"`
	Middle     int64      `parquet:"middle" json:"middle"`
	Outer      int64      `parquet:"outer" json:"outer"`
	Absent     int64      `parquet:"absent" json:"absent"`
	Stray      int64      `parquet:"stray" json:"stray"`
	Mean       *float64   `parquet:"offset_mean_us" json:"offset_mean_us"`
	SD         *float64   `parquet:"offset_sd_us" json:"offset_sd_us"`
	Median     *float64   `parquet:"offset_median_us" json:"offset_median_us"`
	MAD        *float64   `parquet:"offset_mad_us" json:"offset_mad_us"`
	Steadiness *float64   `parquet:"steadiness" json:"steadiness"`
	BestShift  *float64   `parquet:"best_shift_us" json:"best_shift_us"`
	Scatter    *float64   `parquet:"scatter_us" json:"scatter_us"`
	Presses    int64      `parquet:"presses" json:"presses"`
	Merged     int64      `parquet:"merged" json:"merged"`
	Gaps       int64      `parquet:"gaps" json:"gaps"`
	Lost       int64      `parquet:"lost" json:"lost"`
	Ended      *int64     `parquet:"ended_us" json:"ended_us"`
}

// noteRow is a note of a run as it is exported.
type noteRow struct {
	Run    string `parquet:"run"`
	Rep    int64  `parquet:"rep"`
	Note   int64  `parquet:"note"`
	Panel  string `parquet:"panel"`
	Due    int64  `parquet:"due_us"`
	Press  *int64 `parquet:"press_us"`
	Offset *int64 `parquet:"offset_us"`
	Band   string `parquet:"band"`

	// With --feet, and where they could be told.
	Foot    *string  `parquet:"foot"`
	Contact *string  `parquet:"contact"`
	P       *float64 `parquet:"p"`
}

func defined(n view.Number) *float64 {
	if !n.Defined() {
		return nil
	}
	return new(float64(n))
}

func there(m view.Moment) *int64 {
	if !m.Defined() {
		return nil
	}
	return new(int64(m))
}

func word(w view.Word) *string {
	if w == "" {
		return nil
	}
	return new(string(w))
}

func runRowOf(r *store.Run) runRow {
	row := runRow{ID: r.ID, Log: r.Log, Drill: r.Name, DrillKey: r.Drill, MirrorKey: r.Mirror, Layout: r.Layout,
		BPM: r.BPM, PerBeat: r.PerBeat, Reps: r.Reps, Planned: r.Planned, Continues: r.Continue,
		Asked: r.Asked, Footing: r.Footing, Technique: r.Technique, P: defined(r.P), Outcomes: r.Outcomes,
		Plan: r.Plan, Block: int64(r.Number), Way: int64(r.Way), WarmUp: r.WarmUp,
		Player: r.Player, Pad: r.Pad, Bar: r.Bar, ShoeMM: r.ShoeMM, Windows: r.Windows, Shift: r.ShiftUS, Debounce: r.DebounceUS,
		Notes: int64(r.Notes), Inner: int64(r.Inner), Middle: int64(r.Middle), Outer: int64(r.Outer), Absent: int64(r.Absent), Stray: int64(r.Stray),
		Mean: defined(r.Offset.Mean), SD: defined(r.Offset.SD), Median: defined(r.Offset.Median), MAD: defined(r.Offset.MAD),
		Steadiness: defined(r.Steadiness), BestShift: defined(r.BestShiftUS), Scatter: defined(r.ScatterUS),
		Presses: int64(r.Presses), Merged: int64(r.Merged), Gaps: int64(r.Gaps), Lost: int64(r.Lost), Ended: there(r.EndedUS)}
	if !r.Started.IsZero() {
		row.Started = &r.Started
	}
	return row
}

// Run writes what was asked for.
func (c *exportCmd) Run(a *app) error {
	x, runs, err := c.runs(a)
	if err != nil {
		return err
	}
	defer x.Close()
	return a.writeFile(c.Out, c.Force, func(w io.Writer) error {
		if c.Of == "notes" {
			return export(w, c.Format, func(put func(noteRow) error) error { return c.notes(a, x, runs, put) })
		}
		return export(w, c.Format, func(put func(runRow) error) error {
			for i := range runs {
				if err := put(runRowOf(&runs[i])); err != nil {
					return err
				}
			}
			return nil
		})
	})
}

// writeFile writes a file, whole or not at all, or standard output where file
// is empty.
func (a *app) writeFile(file string, force bool, write func(io.Writer) error) error {
	if file == "" {
		w := bufio.NewWriterSize(a.stdout, 1<<16)
		if err := write(w); err != nil {
			return err
		}
		return w.Flush()
	}
	if !force {
		if _, err := os.Lstat(file); !errors.Is(err, fs.ErrNotExist) {
			return &pad.BadInput{File: file, Msg: "is there already; --force replaces it"}
		}
	}
	f, err := renameio.NewPendingFile(file, renameio.WithPermissions(0o644))
	if err != nil {
		return err
	}
	defer f.Cleanup()
	w := bufio.NewWriterSize(f, 1<<16)
	if err := write(w); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.CloseAtomicallyReplace()
}

// notes hands on the notes of runs: their logs are judged again, one after another.
func (c *exportCmd) notes(a *app, x *store.Index, runs []store.Run, put func(noteRow) error) error {
	judge := practice.Figures
	if c.Feet {
		judge = practice.Review
	}
	for i := range runs {
		if err := a.ctx.Err(); err != nil {
			return err
		}
		rep, err := judge(x.File(runs[i].Log))
		if err != nil {
			return err
		}
		for j := range rep.Notes {
			n := &rep.Notes[j]
			if err := put(noteRow{Run: runs[i].ID, Rep: int64(n.Rep), Note: int64(n.Note), Panel: n.Panel, Due: int64(n.Due),
				Press: there(n.Press), Offset: there(n.Offset), Band: n.Band, Foot: word(n.Foot), Contact: word(n.Contact), P: defined(n.P)}); err != nil {
				return err
			}
		}
	}
	return nil
}

// export writes the rows that all hands on, in a format.
func export[T any](w io.Writer, format string, all func(put func(T) error) error) error {
	if format == "parquet" {
		p := parquet.NewGenericWriter[T](w, parquet.Compression(&parquet.Zstd))
		if err := all(func(row T) error { _, err := p.Write([]T{row}); return err }); err != nil {
			return err
		}
		return p.Close()
	}
	c := csv.NewWriter(w)
	of := reflect.TypeFor[T]()
	cells := make([]string, of.NumField())
	for i := range cells {
		cells[i], _, _ = strings.Cut(of.Field(i).Tag.Get("parquet"), ",")
	}
	if err := c.Write(cells); err != nil {
		return err
	}
	err := all(func(row T) error {
		v := reflect.ValueOf(row)
		for i := range cells {
			cells[i] = cell(v.Field(i))
		}
		return c.Write(cells)
	})
	if err != nil {
		return err
	}
	c.Flush()
	return c.Error()
}

// cell writes a value as a field of CSV; a nil pointer is empty.
func cell(v reflect.Value) string {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return ""
		}
		v = v.Elem()
	}
	switch x := v.Interface().(type) {
	case time.Time:
		return x.Format(time.RFC3339Nano)
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	default:
		return fmt.Sprint(x)
	}
}
