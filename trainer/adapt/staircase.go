package adapt

// Staircase moves a level by what came of each trial. With a level that is made
// harder by Up it is the transformed up-down rule of Levitt (1971, J Acoust Soc
// Am 49:467–477) for Needed above 1, and the weighted rule of Kaernbach (1991,
// Perception & Psychophysics 49:227–229) for steps that differ.
type Staircase struct {
	Level  float64 // of the next trial
	Up     float64 // added after Needed successes in a row
	Down   float64 // taken off after a failure
	Needed int     // successes in a row; 0 stands for 1

	streak int
}

// Weighted gives a staircase that settles where the share of successes is target:
// there up·p = down·(1 − p), so a failure costs p/(1 − p) steps. Success makes it
// harder here, so up is the smaller step for a target above a half; where a success
// lowers the level, as Kaernbach writes it, the same ratio reads the other way round.
func Weighted(start, up, target float64) *Staircase {
	return &Staircase{Level: start, Up: up, Down: up * target / (1 - target)}
}

// Feed takes the outcome of the trial at Level and moves it.
func (s *Staircase) Feed(success bool) {
	if !success {
		s.streak = 0
		s.Level -= s.Down
		return
	}
	if s.streak++; s.streak >= max(1, s.Needed) {
		s.streak = 0
		s.Level += s.Up
	}
}
