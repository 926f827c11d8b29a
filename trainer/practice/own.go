package practice

import (
	"path/filepath"

	"heeltoe/footing/read"
	"heeltoe/input/record"
	"heeltoe/trainer/profile"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

// ownOf gives a player's own parameters of the reading, nothing where none are kept or their file
// cannot be read: then feet are read as anybody's.
func ownOf(player string) read.Own {
	p, err := profile.LoadPlayer(player)
	if err != nil {
		return nil
	}
	return OwnOf(p)
}

// OwnOf gives a player's own parameters: the means of what their labelled runs say, each by its reps.
func OwnOf(p *profile.Player) read.Own {
	fits, weights := make([]read.Own, len(p.Fits)), make([]float64, len(p.Fits))
	for i := range p.Fits {
		fits[i], weights[i] = p.Fits[i].Values, float64(p.Fits[i].Reps)
	}
	return read.Mean(fits, weights)
}

// PlayerOf gives the player of a run log, nothing where it does not say.
func PlayerOf(path string) (player string, err error) {
	h, _, err := record.ReadHead(path)
	if err != nil {
		return "", err
	}
	return h.Player, nil
}

// Learn gives what a labelled run says of its player's parameters, for the player's file: of
// no reps where it says nothing. The labels are by rep, as in the file of labels.
func Learn(path string, labels []string) (fit profile.Fit, err error) {
	_, err = again(path, func(lr *record.LogReader) (*view.Report, error) {
		r, err := store.Judge(lr)
		if err != nil {
			return nil, err
		}
		own, reps, err := r.Learn(labels)
		fit = profile.Fit{Run: filepath.Base(path), Reps: int64(reps), Values: own}
		return nil, err
	})
	return fit, err
}
