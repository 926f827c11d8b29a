// Package storetest makes archives of run logs for tests and measurements: what
// a player who drills for some weeks leaves behind, played by the synthetic player.
package storetest

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/input/synth"
	"heeltoe/trainer/drills"
	"heeltoe/trainer/store"
)

// Plan is the archive to be made.
type Plan struct {
	Dir     string    // folder of run logs
	Runs    int       // over all
	Presses int       // a run, about
	From    time.Time // the first run
	Weeks   int       // over which the runs are spread evenly
	Drills  []string  // ids of the library, in turn; all of it where empty
	BPM     []float64 // tempi, in turn with every round of drills; each drill's own where empty
	Players []string  // in turn with every round; nobody where empty

	// ClockSDMS is the spread of the player's inner clock in the first and in the
	// last week; between them it goes evenly. The player's default where both are 0.
	ClockSDMS [2]float64
	MissRate  float64
}

// Made is one log of the archive.
type Made struct {
	File    string
	Header  record.Header
	Presses int
}

// Make writes the archive and gives its logs in order of their runs. The same
// plan gives the same archive. Where a file is there already it fails.
func (p Plan) Make() ([]Made, error) {
	if len(p.Drills) == 0 {
		for _, e := range drills.List() {
			p.Drills = append(p.Drills, e.ID)
		}
	}
	made := make([]Made, p.Runs)
	jobs := make(chan int)
	faults := make(chan error, runtime.GOMAXPROCS(0))
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range jobs {
				m, err := p.play(i)
				if err != nil {
					select {
					case faults <- fmt.Errorf("run %d: %w", i, err):
					default:
					}
					continue
				}
				made[i] = *m
			}
		})
	}
	for i := range p.Runs {
		jobs <- i
	}
	close(jobs)
	workers.Wait()
	select {
	case err := <-faults:
		return nil, err
	default:
		return made, nil
	}
}

// play plays run i and writes its log.
func (p *Plan) play(i int) (*Made, error) {
	round := i / len(p.Drills)
	d, err := drills.Load(p.Drills[i%len(p.Drills)])
	if err != nil {
		return nil, err
	}
	if d, err = d.WithReps(max(1, int64(p.Presses/len(d.Notes)))); err != nil {
		return nil, err
	}
	if len(p.BPM) > 0 {
		if d, err = d.WithTempo(p.BPM[round%len(p.BPM)]); err != nil {
			return nil, err
		}
	}
	part := float64(i) / float64(p.Runs)
	h := record.Header{Layout: d.Layout.Name, Lead: 2 * pad.Second, Drill: d.Spec, Pad: "practice pad", Bar: "none", ShoeMM: 290,
		Started: p.From.Add(time.Duration(part * float64(p.Weeks) * float64(7*24*time.Hour))).Truncate(time.Microsecond)}
	if len(p.Players) > 0 {
		h.Player = p.Players[round%len(p.Players)]
	}
	habits := synth.Defaults()
	habits.MissRate = p.MissRate
	if p.ClockSDMS != [2]float64{} {
		habits.ClockSDMS = p.ClockSDMS[0] + part*(p.ClockSDMS[1]-p.ClockSDMS[0])
	}
	contacts := d.Footing
	if contacts == nil {
		contacts = footing.Default(d)
	}
	player, err := synth.New(d, contacts, h.Lead, habits, uint64(i)+1)
	if err != nil {
		return nil, err
	}
	name := fmt.Sprintf("%s-%06d-%s.jsonl", h.Started.UTC().Format("20060102T150405Z"), i, store.Slug(d.Name))
	m := &Made{File: filepath.Join(p.Dir, h.Started.UTC().Format("2006"), name), Header: h}
	return m, m.write(player)
}

func (m *Made) write(player *synth.Player) error {
	if err := os.MkdirAll(filepath.Dir(m.File), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(m.File, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	defer f.Close()
	out := bufio.NewWriterSize(f, 1<<16)
	w, err := record.NewLogWriter(out, m.Header)
	if err != nil {
		return err
	}
	for {
		e, err := player.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if e.Kind == pad.Down {
			m.Presses++
		}
		if err := w.Write(e); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if err := out.Flush(); err != nil {
		return err
	}
	return f.Close()
}
