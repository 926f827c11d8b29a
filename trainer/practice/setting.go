package practice

import (
	"encoding/json"
	"math"
	"strconv"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/judge/drill"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// clickKey is the key of a run log's header that says how the metronome was set:
// {"sound":"tick","silent_after":8,"silent_every":0,"reps_before":0}, with the reps
// of earlier parts of the run, which the two counts go on from.
const clickKey = "click"

type clickMember struct {
	Sound       string `json:"sound"`
	SilentAfter int64  `json:"silent_after"`
	SilentEvery int64  `json:"silent_every"`
	Before      int64  `json:"reps_before"`
}

// clicked gives the header's member of how the metronome is set.
func (c *Choice) clicked(before int64) record.Member {
	// Strings and numbers can always be written.
	text, _ := json.Marshal(clickMember{c.Click.Sound, c.Click.SilentAfter, c.Click.SilentEvery, before})
	return record.Member{Key: clickKey, Value: text}
}

// reported gives the header's member of how often the pad reports.
func reported(f pad.Fineness) record.Member {
	return record.Member{Key: store.IntervalKey, Value: strconv.AppendInt(nil, int64(f), 10)}
}

// settle puts what a log's header says of the setting of its run into its report.
func settle(rep *view.Report, h *record.Header) {
	rep.Setting = SettingOf(h)
	if f := rep.Setting.Fineness; f > 0 {
		rep.Pad = &view.PadTells{Interval: view.Moment(f), Quantisation: view.Number(math.Round(f.SD()))}
	}
}

// SettingOf gives what a log's header says of the setting of its run.
func SettingOf(h *record.Header) view.Setting {
	inner := h.Bounds()[drill.Inner]
	s := view.Setting{Inner: view.Bound{Early: inner.Early, Late: inner.Late}, Fineness: store.FinenessOf(h)}
	for _, m := range h.Extra {
		var c clickMember
		if m.Key != clickKey || json.Unmarshal(m.Value, &c) != nil {
			continue // what another program wrote there is not ours to judge
		}
		s.Click = view.Click{Known: c.Sound != "", Off: c.Sound == Off,
			SilentAfter: c.SilentAfter, SilentEvery: c.SilentEvery, Before: c.Before}
	}
	return s
}
