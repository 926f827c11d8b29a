package practice

import (
	"errors"
	"fmt"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/trainer/profile"
)

// Body is a player's body as far as it is known, for the planner.
type Body struct {
	footing.Body
	Player *profile.Player // whose limits are in it
	Pad    *profile.Pad    // whose measured pairs are in it, nil for none
	Shoe   string          // where the shoe's length comes from: given, kept, default

	// LeftOut says of what was measured why it is not in it.
	LeftOut []string
}

// BodyChoice says whose body a footing is planned for. Its tags name the flags of the command line.
type BodyChoice struct {
	Shoe     float64 `placeholder:"MM" help:"Length of the shoes' outsole in mm; the one that is kept, or else 310, unless given."`
	Player   string  `help:"Plan for this player, with what was measured of the body; the last one unless given."`
	Pad      string  `help:"Plan for this taught pad, with the reach that was measured on it; the last one, or the only one, unless given."`
	Defaults bool    `help:"Plan with the default limits, whatever was measured."`
}

// Body gives the body of the player: what was measured, and for the rest the defaults.
// Its errors are *Wrong, *Lacking or *pad.BadInput.
func (c *BodyChoice) Body() (*Body, error) {
	s, err := profile.LoadSettings()
	if err != nil {
		return nil, err
	}
	b := &Body{Body: footing.DefaultBody(), Player: &profile.Player{}, Shoe: "default"}
	switch {
	case c.Shoe != 0:
		if !(c.Shoe >= footing.MinShoeMM && c.Shoe <= footing.MaxShoeMM) {
			return nil, Wrongf("--shoe: %v mm is not from %d to %d", c.Shoe, footing.MinShoeMM, footing.MaxShoeMM)
		}
		b.ShoeMM, b.Shoe = c.Shoe, "given"
	case s.ShoeMM != 0:
		b.ShoeMM, b.Shoe = float64(s.ShoeMM), "kept"
	}
	b.ShoeWidthMM = min(b.ShoeWidthMM, b.ShoeMM)
	if c.Defaults {
		return b, nil
	}
	name := c.Player
	if name == "" {
		name = s.Player
	}
	if b.Player, err = profile.LoadPlayer(name); err != nil {
		return nil, err
	}
	b.Player.Apply(&b.Body)
	p, err := Taught(c.Pad)
	var wrong *Wrong
	var lacking *Lacking
	switch {
	case c.Pad == "" && (errors.As(err, &wrong) || errors.As(err, &lacking)):
		return b, nil // there is none to go by
	case err != nil:
		return nil, err
	}
	b.reach(p, name)
	return b, nil
}

// reach puts in the pairs that were measured on a pad, if they are of these feet in these shoes.
func (b *Body) reach(p *profile.Pad, player string) {
	switch pairs := p.Pairs(); {
	case pairs == nil:
	case p.ReachPlayer != "" && p.ReachPlayer != player:
		b.LeftOut = append(b.LeftOut, fmt.Sprintf("the reach measured on the pad %s is of %s", p.Name, p.ReachPlayer))
	case p.ReachShoeMM != 0 && float64(p.ReachShoeMM) != b.ShoeMM:
		b.LeftOut = append(b.LeftOut, fmt.Sprintf("the reach measured on the pad %s is of shoes of %d mm", p.Name, p.ReachShoeMM))
	default:
		b.Pairs, b.Pad = pairs, p
	}
}

// On leaves out what was measured on a pad of another layout than l, and says so where the pad was named.
func (b *Body) On(l *pad.Layout, named bool) {
	if b.Pad == nil || b.Pad.Map.Layout.Name == l.Name {
		return
	}
	if named {
		b.LeftOut = append(b.LeftOut, fmt.Sprintf("the reach measured on the pad %s is of the layout %s", b.Pad.Name, b.Pad.Map.Layout.Name))
	}
	b.Pad, b.Pairs = nil, nil
}
