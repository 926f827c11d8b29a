package live_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/judge"
	"heeltoe/judge/drill"
	"heeltoe/trainer"
	"heeltoe/trainer/live"
)

func logHeader(d *drill.Drill) record.Header {
	return record.Header{Layout: d.Layout.Name, Lead: pad.Second, Drill: d.Spec}
}

// steady is a script that presses every note 3 ms late, for 40 ms.
type steady struct {
	d    *drill.Drill
	grid drill.Grid
	k    int
	up   bool
	at   func(k int)
}

func (s *steady) Next() (pad.Edge, error) {
	if s.k == s.d.Total() {
		return pad.Edge{}, io.EOF
	}
	n := s.d.Notes[s.k%len(s.d.Notes)]
	e := pad.Edge{T: s.grid.Due(int64(s.k/len(s.d.Notes)), int64(n.Slot)) + 3000, Panel: n.Panel, Kind: pad.Down}
	if s.up {
		e.T += 40_000
		e.Kind = pad.Up
		s.k++
	} else if s.at != nil {
		s.at(s.k)
	}
	s.up = !s.up
	return e, nil
}

func short(t testing.TB, reps int64) *drill.Drill {
	d, err := drill.New(drill.Spec{Name: "short", Layout: "single", BPM: 600, PerBeat: 1, Reps: reps, Steps: "sw c ne ."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// review judges a log again, from the file.
func review(t testing.TB, path string) (*record.Log, *trainer.Run) {
	l, err := record.ReadLog(path)
	if err != nil {
		t.Fatal(err)
	}
	h := &l.Header
	r := trainer.New(l.Drill, judge.Options{Lead: h.Lead, Windows: h.Windows, Shift: h.Shift, Debounce: h.Debounce})
	for _, e := range l.Edges {
		r.Feed(e)
	}
	r.Finish()
	return l, r
}

// A run played live is the same, figure by figure, as its log reviewed.
func TestLiveEqualsReview(t *testing.T) {
	d := short(t, 3)
	path := t.TempDir() + "/run.jsonl"
	log, err := live.Create(path, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	clock, _ := live.NewClock()
	reps := 0
	res := live.Play(t.Context(), &live.Config{Drill: d, Clock: clock, Log: log, Options: judge.Options{Lead: pad.Second},
		Sources: []input.Source{&input.Paced{Script: &steady{d: d, grid: d.Grid(pad.Second)}, Name: "steady"}},
		Events: func(e live.Event) {
			if _, ok := e.(live.RepDone); ok {
				reps++
			}
		}})
	if err := log.Close(res.Begun); err != nil {
		t.Fatal(err)
	}
	l, again := review(t, path)
	if res.Ending != live.Played || reps != 3 || len(l.Edges) != 2*d.Total() {
		t.Errorf("ending %v, %d reps told of, %d edges kept", res.Ending, reps, len(l.Edges))
	}
	got, want := res.Run.Report(), again.Report()
	a, err1 := json.Marshal(got)
	b, err2 := json.Marshal(want)
	if err1 != nil || err2 != nil || !bytes.Equal(a, b) {
		t.Errorf("live\n%s\nreviewed\n%s (%v, %v)", a, b, err1, err2)
	}
	if want.Summary.Inner != d.Total() || float64(want.Summary.Offset.Mean) != 3000 {
		t.Errorf("summary %+v", want.Summary)
	}
}

// A run that the player ends keeps what there is, with the reps that were begun.
func TestAbandonKeepsWhatThereIs(t *testing.T) {
	d := short(t, 100)
	path := t.TempDir() + "/run.jsonl"
	log, err := live.Create(path, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	clock, _ := live.NewClock()
	res := live.Play(ctx, &live.Config{Drill: d, Clock: clock, Log: log, Options: judge.Options{Lead: pad.Second},
		Sources: []input.Source{&input.Paced{Script: &steady{d: d, grid: d.Grid(pad.Second)}, Name: "steady"}},
		Events: func(e live.Event) {
			if r, ok := e.(live.RepDone); ok && r.Rep.Rep == 1 {
				cancel()
			}
		}})
	if err := log.Close(res.Begun); err != nil {
		t.Fatal(err)
	}
	l, again := review(t, path)
	if res.Ending != live.Abandoned || l.Drill.Reps != res.Begun || res.Begun < 2 || res.Begun > 5 {
		t.Errorf("ending %v, %d reps begun, the log has %d", res.Ending, res.Begun, l.Drill.Reps)
	}
	if len(l.Header.Extra) != 1 || l.Header.Extra[0].Key != "planned_reps" || string(l.Header.Extra[0].Value) != "100" {
		t.Errorf("the log does not say what was planned: %+v", l.Header.Extra)
	}
	if s := again.Report().Summary; s.Inner < 6 {
		t.Errorf("what was played is not there: %+v", s)
	}
}

type broken struct{ after pad.Time }

func (b *broken) Describe() string { return "broken" }
func (b *broken) Run(ctx context.Context, clock input.Clock, q *input.Queue) error {
	if clock.Until(ctx, b.after) != nil {
		return nil
	}
	q.Put(pad.Edge{T: clock.Now(), Panel: 1, Kind: pad.Down})
	return errors.New("unplugged")
}

// A pad that is unplugged ends the run; its last edges are judged and kept.
func TestUnpluggedInMidRun(t *testing.T) {
	d := short(t, 100)
	path := t.TempDir() + "/run.jsonl"
	log, err := live.Create(path, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	clock, _ := live.NewClock()
	told := ""
	res := live.Play(t.Context(), &live.Config{Drill: d, Clock: clock, Log: log, Options: judge.Options{Lead: pad.Second},
		Sources: []input.Source{&broken{after: 1100 * pad.Millisecond}},
		Events: func(e live.Event) {
			if s, ok := e.(live.SourceEnded); ok && s.Err != nil {
				told = s.Err.Error()
			}
		}})
	if err := log.Close(res.Begun); err != nil {
		t.Fatal(err)
	}
	l, _ := review(t, path)
	if res.Ending != live.Lost || told != "unplugged" || len(l.Edges) != 1 || res.Run.Presses() != 1 {
		t.Errorf("ending %v, told %q, %d edges kept", res.Ending, told, len(l.Edges))
	}
}

// Edges of two devices, one of them 20 ms behind, come out in one order.
func TestTwoSourcesInOneOrder(t *testing.T) {
	d := short(t, 3)
	path := t.TempDir() + "/run.jsonl"
	log, err := live.Create(path, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	clock, _ := live.NewClock()
	res := live.Play(t.Context(), &live.Config{Drill: d, Clock: clock, Log: log, Hold: 20 * pad.Millisecond, Options: judge.Options{Lead: pad.Second},
		Sources: []input.Source{
			&input.Paced{Script: &steady{d: d, grid: d.Grid(pad.Second)}, Name: "one"},
			&behind{d: d, grid: d.Grid(pad.Second)},
		}})
	if err := log.Close(res.Begun); err != nil {
		t.Fatal(err)
	}
	l, _ := review(t, path) // refuses times that go back
	if want := 2*d.Total() + 2*int(d.Reps); len(l.Edges) != want {
		t.Errorf("%d edges kept, want %d", len(l.Edges), want)
	}
}

// behind presses se once a rep and hands its edges on 20 ms after their time.
type behind struct {
	d    *drill.Drill
	grid drill.Grid
}

func (b *behind) Describe() string { return "behind" }
func (b *behind) Run(ctx context.Context, clock input.Clock, q *input.Queue) error {
	se, _ := b.d.Layout.Lookup("se")
	for r := range b.d.Reps {
		for k, kind := range []pad.EdgeKind{pad.Down, pad.Up} {
			at := b.grid.Due(r, 1) + pad.Time(k)*35_000
			if clock.Until(ctx, at+20*pad.Millisecond) != nil {
				return nil
			}
			q.Put(pad.Edge{T: at, Panel: se, Kind: kind})
		}
	}
	return nil
}

// While a run goes on, each edge is in the file within 50 ms.
func TestEdgesReachTheFile(t *testing.T) {
	d := short(t, 2)
	path := t.TempDir() + "/run.jsonl"
	log, err := live.Create(path, logHeader(d))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 10 {
		log.Write(pad.Edge{T: pad.Time(i), Panel: 1, Kind: pad.EdgeKind(1 - i%2)})
		time.Sleep(50 * time.Millisecond)
		l, err := record.ReadLog(path)
		if err != nil {
			t.Fatal(err)
		}
		if len(l.Edges) != i+1 || len(l.Warnings) != 0 {
			t.Errorf("after 50 ms the file holds %d edges of %d, warnings %v", len(l.Edges), i+1, l.Warnings)
		}
	}
	if err := log.Close(d.Reps); err != nil {
		t.Fatal(err)
	}
}

// A log is never written over another.
func TestLogIsNotOverwritten(t *testing.T) {
	path := t.TempDir() + "/run.jsonl"
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := live.Create(path, logHeader(short(t, 1))); !errors.Is(err, os.ErrExist) {
		t.Errorf("got %v, want that it exists", err)
	}
	if text, _ := os.ReadFile(path); string(text) != "mine" {
		t.Error("the file was changed")
	}
}
