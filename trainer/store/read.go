package store

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/view"
)

// Judge judges what is left of a log by the same steps as a live run.
func Judge(lr *record.LogReader) (*trainer.Run, error) {
	h := &lr.Header
	r := trainer.New(lr.Drill, judge.Options{Lead: h.Lead, Windows: h.Windows, Shift: h.Shift, Debounce: h.Debounce})
	for {
		e, err := lr.Next()
		if err == io.EOF {
			r.Finish()
			return r, nil
		}
		if err != nil {
			return nil, err
		}
		r.Feed(e)
	}
}

// readRun reads and judges the log of the file given. Faults are *pad.BadInput.
func readRun(file string) (*Run, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, pad.FileFault(file, "opened", err)
	}
	defer f.Close()
	hash := sha256.New()
	all := io.TeeReader(f, hash)
	lr, err := record.NewLogReader(file, all)
	if err != nil {
		return nil, err
	}
	run, err := Judge(lr)
	if err != nil {
		return nil, err
	}
	if _, err := io.Copy(io.Discard, all); err != nil { // what a cut log leaves unread
		return nil, pad.FileFault(file, "read", err)
	}
	r := summarise(lr, run.Figures())
	r.ID = hex.EncodeToString(hash.Sum(nil)[:16])
	return r, nil
}

// summarise gives what the index keeps of a run, all but its id and name.
func summarise(lr *record.LogReader, rep *view.Report) *Run {
	h, s := &lr.Header, &rep.Summary
	r := &Run{Started: h.Started, Name: h.Drill.Name, Layout: h.Layout, BPM: h.Drill.BPM, PerBeat: h.Drill.PerBeat,
		Reps: int64(s.RepsBegun), Planned: h.Drill.Reps, Asked: h.Drill.Technique, Footing: h.Drill.Footing, P: view.Undefined,
		Player: h.Player, Pad: h.Pad, Bar: h.Bar, ShoeMM: h.ShoeMM, Windows: boundsText(h.Bounds()),
		ShiftUS: int64(h.Shift), DebounceUS: int64(h.Debounce), IntervalUS: int64(FinenessOf(h)),
		Counts: s.Counts, Offset: s.Offset, Steadiness: s.Steadiness, BestShiftUS: s.BestShift, ScatterUS: s.Scatter,
		Presses: s.Presses, Merged: s.Merged, Gaps: s.Gaps, Lost: s.Lost, EndedUS: s.Ended}
	r.Drill, r.Mirror = Keys(lr.Drill)
	r.Moments, r.RepSlots, r.Block = lr.Drill.Moments(), lr.Drill.RepSlots(), BlockOf(h)
	for i := range rep.Reps[:min(len(rep.Reps), s.RepsBegun)] {
		r.RepScatterUS = append(r.RepScatterUS, float64(rep.Reps[i].Scatter))
	}
	for _, m := range h.Extra {
		switch m.Key {
		case "planned_reps":
			if n, err := strconv.ParseInt(string(m.Value), 10, 64); err == nil {
				r.Planned = n
			}
		case "continues":
			r.Continue = string(m.Value) == "true"
		}
	}
	if r.Reps < r.Planned {
		leaveOut(r, rep, h.Shift)
	}
	return r
}

// leaveOut takes the notes out that a run which was broken off did not come to:
// those without a press that were due after its last edge.
func leaveOut(r *Run, rep *view.Report, shift pad.Time) {
	for i := range rep.Notes {
		n := &rep.Notes[i]
		if n.Band != drill.Absent.String() || rep.Summary.Ended.Defined() && n.Due <= rep.Summary.Ended-view.Moment(shift) {
			continue
		}
		r.Notes--
		r.Absent--
	}
}

// boundsText writes windows as the index compares them.
func boundsText(w drill.Windows) string {
	var parts []string
	for _, b := range w {
		parts = append(parts, fmt.Sprintf("%d,%d", b.Early, b.Late))
	}
	return strings.Join(parts, ",")
}
