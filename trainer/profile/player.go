package profile

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
	"heeltoe/judge/drill/tomldoc"
)

// Player is what was measured of a player's body, to go before the planner's defaults.
type Player struct {
	Name   string  // empty: whoever plays without a name
	Limits []Limit // in the order of footing.Limits, each once
	Fits   []Fit   // what labelled runs say of how the player's feet press, each run once
}

// Fit is what one labelled run says of the player's parameters of the reading.
type Fit struct {
	Run    string             // name of its log
	Reps   int64              // with a label
	Values map[string]float64 // by the parameters' names, in their units
}

// Learn puts a fit in the place of that of the same run.
func (p *Player) Learn(f Fit) {
	p.Forget(f.Run)
	p.Fits = append(p.Fits, f)
}

// Forget takes back what was learnt of a run; it tells whether there was anything.
func (p *Player) Forget(run string) bool {
	n := len(p.Fits)
	p.Fits = slices.DeleteFunc(p.Fits, func(f Fit) bool { return f.Run == run })
	return len(p.Fits) < n
}

// Limit is how long a player needs for one thing that feet do.
type Limit struct {
	Of   footing.Limit
	Time pad.Time

	// Reached tells that it was what made the drill too fast. Where it is false the player had
	// this much time and it was enough: it may be possible in less.
	Reached bool

	Drill string  // that it was measured by
	BPM   float64 // tempo up to which that was played well
	Reps  int64   // of which the tempo comes
}

// maxLimit is the longest time that the file takes for a limit.
const maxLimit = 10 * pad.Second

// Keep puts a measured limit in the place of the one that is there. One that was not reached
// gives way only to what is shorter or was reached.
func (p *Player) Keep(l Limit) {
	i, found := slices.BinarySearchFunc(p.Limits, l.Of, func(a Limit, of footing.Limit) int { return int(a.Of) - int(of) })
	switch {
	case !found:
		p.Limits = slices.Insert(p.Limits, i, l)
	case l.Reached || l.Time < p.Limits[i].Time:
		p.Limits[i] = l
	}
}

// Apply puts the limits into a body: those that were reached, and of the others those that are
// shorter than the body's own.
func (p *Player) Apply(b *footing.Body) {
	for _, l := range p.Limits {
		if t := l.Time.Duration(); l.Reached || t < b.Limit(l.Of) {
			b.Measure(l.Of, t)
		}
	}
}

type playerFile struct {
	Player string      `toml:"player,omitempty"`
	Limit  []limitFile `toml:"limit"`
	Fit    []fitFile   `toml:"fit,omitempty"`
}

type fitFile struct {
	Run    string    `toml:"run"`
	Reps   int64     `toml:"reps"`
	Of     []string  `toml:"of"`     // names of parameters
	Values []float64 `toml:"values"` // of each
}

type limitFile struct {
	Of      string  `toml:"of"`
	TimeUS  int64   `toml:"time_us"`
	Reached bool    `toml:"reached"`
	Drill   string  `toml:"drill"`
	BPM     float64 `toml:"bpm"`
	Reps    int64   `toml:"reps"`
}

// ParsePlayer reads a player's file; file stands for it in messages. Faults are *pad.BadInput.
func ParsePlayer(file string, text []byte) (*Player, error) {
	var f playerFile
	doc, err := tomldoc.Decode(file, text, &f)
	if err != nil {
		return nil, err
	}
	p := &Player{Name: f.Player}
	if msg := badName(p.Name); p.Name != "" && msg != "" {
		return nil, doc.Errorf("player", "%s", msg)
	}
	for i, e := range f.Limit {
		at := "limit." + strconv.Itoa(i)
		of, ok := footing.LimitOf(e.Of)
		l := Limit{Of: of, Time: pad.Time(e.TimeUS), Reached: e.Reached, Drill: e.Drill, BPM: e.BPM, Reps: e.Reps}
		switch {
		case !ok:
			return nil, doc.Errorf(at+".of", "%q is none of %s", e.Of, strings.Join(limitKeys(), ", "))
		case slices.ContainsFunc(p.Limits, func(o Limit) bool { return o.Of == of }):
			return nil, doc.Errorf(at+".of", "%s stands there already", e.Of)
		}
		if key, msg := l.check(); key != "" {
			return nil, doc.Errorf(at+"."+key, "%s", msg)
		}
		p.Limits = append(p.Limits, l)
	}
	slices.SortFunc(p.Limits, func(a, b Limit) int { return int(a.Of) - int(b.Of) })
	for i, e := range f.Fit {
		fit := Fit{Run: e.Run, Reps: e.Reps, Values: make(map[string]float64)}
		if len(e.Of) != len(e.Values) {
			return nil, doc.Errorf("fit."+strconv.Itoa(i)+".values", "takes as many as of has, %d", len(e.Of))
		}
		for k, name := range e.Of {
			fit.Values[name] = e.Values[k]
		}
		if key, msg := fit.check(); key != "" {
			return nil, doc.Errorf("fit."+strconv.Itoa(i)+"."+key, "%s", msg)
		}
		if slices.ContainsFunc(p.Fits, func(o Fit) bool { return o.Run == fit.Run }) {
			return nil, doc.Errorf("fit."+strconv.Itoa(i)+".run", "%s stands there already", fit.Run)
		}
		p.Fits = append(p.Fits, fit)
	}
	return p, nil
}

func limitKeys() (keys []string) {
	for _, l := range footing.Limits() {
		keys = append(keys, l.Key())
	}
	return keys
}

// check gives the key of what is wrong with a limit, and what.
func (l *Limit) check() (key, msg string) {
	switch {
	case l.Time < 1 || l.Time > maxLimit:
		return "time_us", fmt.Sprintf("%d is not from 1 to %d", l.Time, maxLimit)
	case badName(l.Drill) != "":
		return "drill", badName(l.Drill)
	case !(l.BPM >= drill.MinBPM && l.BPM <= drill.MaxBPM):
		return "bpm", fmt.Sprintf("%v is not from %v to %v", l.BPM, drill.MinBPM, drill.MaxBPM)
	case l.Reps < 1 || l.Reps > drill.MaxReps:
		return "reps", fmt.Sprintf("%d is not from 1 to %d", l.Reps, drill.MaxReps)
	}
	return "", ""
}

// maxValue is the largest size that a fitted value has.
const maxValue = 1e6

// check gives the key of what is wrong with a fit, and what.
func (f *Fit) check() (key, msg string) {
	switch {
	case badName(f.Run) != "":
		return "run", badName(f.Run)
	case f.Reps < 1 || f.Reps > drill.MaxReps:
		return "reps", fmt.Sprintf("%d is not from 1 to %d", f.Reps, drill.MaxReps)
	}
	for name, v := range f.Values {
		if !(math.Abs(v) <= maxValue) {
			return "values", fmt.Sprintf("%s is %v, not a value", name, v)
		}
	}
	return "", ""
}

// Text gives the player as a file; ParsePlayer of it gives an equal one.
func (p *Player) Text() ([]byte, error) {
	if msg := badName(p.Name); p.Name != "" && msg != "" {
		return nil, errors.New(msg)
	}
	f := playerFile{Player: p.Name}
	for i := range p.Limits {
		l := &p.Limits[i]
		if key, msg := l.check(); key != "" {
			return nil, fmt.Errorf("the limit %s: %s: %s", l.Of.Key(), key, msg)
		}
		f.Limit = append(f.Limit, limitFile{l.Of.Key(), int64(l.Time), l.Reached, l.Drill, l.BPM, l.Reps})
	}
	for _, fit := range p.Fits {
		if key, msg := fit.check(); key != "" {
			return nil, fmt.Errorf("the fit of %s: %s: %s", fit.Run, key, msg)
		}
		file := fitFile{Run: fit.Run, Reps: fit.Reps}
		for _, of := range slices.Sorted(maps.Keys(fit.Values)) {
			file.Of, file.Values = append(file.Of, of), append(file.Values, fit.Values[of])
		}
		f.Fit = append(f.Fit, file)
	}
	return toml.Marshal(&f)
}

// PlayerFile gives the file of the player of the name given, or of whoever plays without one.
func PlayerFile(name string) string {
	if name == "" {
		return filepath.Join(Dir(), "player.toml")
	}
	return filepath.Join(Dir(), "players", Slug(name)+".toml")
}

// LoadPlayer reads what was measured of a player; where there is no file it is nothing.
func LoadPlayer(name string) (*Player, error) {
	file := PlayerFile(name)
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return &Player{Name: name}, nil
	}
	text, err := tomldoc.ReadFile(file, MaxBytes)
	if err != nil {
		return nil, err
	}
	return ParsePlayer(file, text)
}

// SavePlayer writes the player's file, whole or not at all, and gives its path.
func SavePlayer(p *Player) (file string, err error) {
	text, err := p.Text()
	if err != nil {
		return "", err
	}
	file = PlayerFile(p.Name)
	return file, write(file, text)
}
