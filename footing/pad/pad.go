// Package pad is the vocabulary that every other package shares: moments,
// panels and where they lie, edges and presses. It imports the standard
// library only and does no work of its own.
package pad

import (
	"fmt"
	"iter"
	"math/bits"
)

// Panel is the index of a pressable plate in its layout's order, 0 to MaxPanels-1.
type Panel uint8

// MaxPanels is the largest number of panels a layout can have.
const MaxPanels = 32

// NoPanel stands for "no such panel".
const NoPanel Panel = 255

// PanelSet is a set of panels, one bit a panel.
type PanelSet uint32

// SetOf gives the set of the panels named.
func SetOf(panels ...Panel) PanelSet {
	var s PanelSet
	for _, p := range panels {
		s |= 1 << p
	}
	return s
}

// Has tells whether p is in s.
func (s PanelSet) Has(p Panel) bool { return s>>p&1 == 1 }

// With gives s and p.
func (s PanelSet) With(p Panel) PanelSet { return s | 1<<p }

// Without gives s less p.
func (s PanelSet) Without(p Panel) PanelSet { return s &^ (1 << p) }

// Len gives the number of panels in s.
func (s PanelSet) Len() int { return bits.OnesCount32(uint32(s)) }

// All yields the panels of s in the layout's order.
func (s PanelSet) All() iter.Seq[Panel] {
	return func(yield func(Panel) bool) {
		for ; s != 0; s &= s - 1 {
			if !yield(Panel(bits.TrailingZeros32(uint32(s)))) {
				return
			}
		}
	}
}

// EdgeKind says what an Edge marks.
type EdgeKind uint8

// Kinds of edge.
const (
	Up   EdgeKind = iota // a panel went up
	Down                 // a panel went down
	Gap                  // edges may be missing; after it every panel's state is unknown
)

func (k EdgeKind) String() string {
	switch k {
	case Up:
		return "up"
	case Down:
		return "down"
	case Gap:
		return "gap"
	}
	return fmt.Sprintf("EdgeKind(%d)", uint8(k))
}

// Edge is one change that a pad reported, or a gap in what it reported.
// T is when the report was read.
type Edge struct {
	T     Time
	Lost  uint32 // for a Gap: how many reports or edges are missing, 0 where that is unknown
	Panel Panel  // NoPanel for a Gap
	Kind  EdgeKind
}

// Press is one panel going down and, later, up again. Up is Never while the
// panel is down or where its release was not seen.
type Press struct {
	Panel    Panel
	Down, Up Time
}

// Foot is one of two feet.
type Foot uint8

// The feet.
const (
	Left Foot = iota
	Right
)

func (f Foot) String() string {
	if f == Left {
		return "L"
	}
	return "R"
}

// Other gives the other foot.
func (f Foot) Other() Foot { return f ^ 1 }
