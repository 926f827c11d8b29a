package practice

import (
	"context"
	"os"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
	"heeltoe/trainer"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// Review judges a run log again and reads its feet.
func Review(path string) (*view.Report, error) { return again(path, ReviewLog) }

// Figures judges a run log again without reading its feet, which takes far longer.
func Figures(path string) (*view.Report, error) {
	return again(path, func(lr *record.LogReader) (*view.Report, error) { return summed(lr, (*trainer.Run).Figures) })
}

// Recall is Review for a log that may be in the history of the program's folder dir:
// what is kept there of its feet is taken, and what has to be read is kept. Where the
// history cannot be used the feet are read all the same.
func Recall(ctx context.Context, dir, path string) (*view.Report, error) {
	if !store.Holds(dir, path) {
		return Review(path)
	}
	x, err := store.Open(ctx, dir)
	if err != nil {
		return Review(path)
	}
	defer x.Close()
	return RecallIn(ctx, x, path)
}

// RecallIn is Recall in a history that is open. The runs of a player with parameters of
// their own are read anew: these can change.
func RecallIn(ctx context.Context, x *store.Index, path string) (*view.Report, error) {
	if own, err := hasOwn(path); err != nil || own {
		return Review(path)
	}
	rep, err := Figures(path)
	if err != nil {
		return nil, err
	}
	if kept, err := x.Recall(ctx, path, rep); err == nil && kept {
		return rep, nil
	}
	if rep, err = Review(path); err != nil {
		return nil, err
	}
	_ = x.Keep(ctx, path, rep) // else it is read again another time
	return rep, nil
}

// hasOwn tells whether the player of a log has parameters of their own.
func hasOwn(path string) (bool, error) {
	player, err := PlayerOf(path)
	return len(ownOf(player)) > 0, err
}

// again judges a run log in one way or the other.
func again(path string, judge func(*record.LogReader) (*view.Report, error)) (*view.Report, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, pad.FileFault(path, "opened", err)
	}
	defer f.Close()
	lr, err := record.NewLogReader(path, f)
	if err != nil {
		return nil, err
	}
	return judge(lr)
}

// ReviewLog judges what is left of a log by the same steps as a live run, and
// reads its feet.
func ReviewLog(lr *record.LogReader) (*view.Report, error) { return summed(lr, (*trainer.Run).Report) }

// summed judges what is left of a log and sums it up.
func summed(lr *record.LogReader, up func(*trainer.Run) *view.Report) (*view.Report, error) {
	r, err := store.Judge(lr)
	if err != nil {
		return nil, err
	}
	r.Suit(ownOf(lr.Header.Player))
	rep := up(r)
	rep.Warnings = append(rep.Warnings, lr.Warnings...)
	settle(rep, &lr.Header)
	return rep, nil
}
