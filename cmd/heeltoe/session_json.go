package main

import (
	"time"

	"heeltoe/judge/drill"
	"heeltoe/trainer/evening"
	"heeltoe/trainer/view"
)

// eveningFile is the object that session --json prints.
type eveningFile struct {
	Begun    *time.Time     `json:"begun"` // null: not yet
	Landings int64          `json:"landings"`
	Played   int64          `json:"landings_played"`
	Minutes  float64        `json:"minutes"` // of what was laid out, rests among them
	Parts    []eveningPart  `json:"parts"`
	LeftOut  []eveningOut   `json:"left_out"`
	Drills   []eveningDrill `json:"drills"`      // what tonight's drills came to
	Tired    []int          `json:"tired_after"` // parts, from 1
}

type eveningPart struct {
	Kind     evening.Kind `json:"kind"`
	Drill    drill.Spec   `json:"drill"`
	RestS    float64      `json:"rest_s"` // before it
	Landings int64        `json:"landings"`
	Done     bool         `json:"done"`
	Played   int64        `json:"reps_played"`
	Log      string       `json:"log,omitempty"`
}

type eveningOut struct {
	Drill string `json:"drill"`
	Why   string `json:"why"`
}

type eveningDrill struct {
	Drill   string      `json:"drill"` // with its technique and tempo
	Sets    int         `json:"sets"`
	Good    int         `json:"good"`
	Clear   int         `json:"clear"`
	Scatter view.Number `json:"scatter_us"` // mean over the sets
}

// eveningJSON gives an evening as JSON; p is nil where it was not played.
func eveningJSON(e *evening.Evening, s *evening.State, p *eveningPlayer) *eveningFile {
	f := &eveningFile{Played: s.Landings(), Parts: []eveningPart{}, LeftOut: []eveningOut{}, Drills: []eveningDrill{}, Tired: []int{}}
	var length time.Duration
	for i := range s.Parts {
		k := &s.Parts[i]
		f.Landings += k.Part.Landings()
		length += k.Length() + k.Rest
		f.Parts = append(f.Parts, eveningPart{k.Kind, k.Drill.Spec, k.Rest.Seconds(), k.Part.Landings(), k.Done, k.Played, k.Log})
	}
	f.Minutes = round(length.Minutes(), 100)
	for _, l := range e.LeftOut {
		f.LeftOut = append(f.LeftOut, eveningOut{l.Drill.Name, l.Why})
	}
	if p == nil {
		return f
	}
	f.Begun, f.Tired = &s.Begun, plusOne(p.tired)
	for _, what := range p.order {
		c := p.came[what]
		f.Drills = append(f.Drills, eveningDrill{what, c.sets, c.good, c.clear, c.mean()})
	}
	return f
}
