package read

import (
	"math"
	"slices"

	"heeltoe/footing"
	"heeltoe/footing/pad"
	"heeltoe/footing/read/chain"
	"heeltoe/judge/drill"
)

// candidate is one way in which a rep may have been played.
type candidate struct {
	contacts  []drill.Contact
	technique string
	aims      []footing.Aim // of its landings that gather notes
	logPrior  float64

	terms []int32 // of the sheet, that are scored within the rep
	first int32   // and the middle of its first landing, where no landing came before
	ids   []int32 // of the sheet's contacts, in the order of contacts
	head  edge    // how it begins, by foot
	tail  edge    // and ends
	ends  int32   // number of its tail: candidates of the same tail share it
	heads int32   // and of its head
}

// How candidates are chosen and weighed before a press is seen (design values).
const (
	planned       = 16  // that the planner would offer
	searched      = 300 // of least load, among which the best of each technique are taken
	eachMost      = 6   // of them, of one technique
	mostExchanged = 2   // landings of both feet in a footing after which the feet may exchange
	loadWeight    = 0.5 // × load: of two of one technique the easier is likelier
	failPenalty   = 2.0 // for a footing that the planner finds too fast for a body
	asked         = 0.7 // for the footing that the drill asks for, among those of its technique
	priorOfMash   = 0.03
	turnRate      = 0.2  // that left and right exchange from a rep to the next
	stayRate      = 0.93 // that the next rep is played as the one before
	reachMM       = 380  // a shoe longer than most: what the pad saw, happened
)

// candidates gives the footings that a rep of d may have been played with, each
// with its prior; mash is not among them.
//
// Techniques are equally likely before a press is seen: that a drill asks for one says what
// is meant, not what is done, and a reading that leaned to it would only confirm
// it. Of one technique's footings the easier are likelier, and the one that is asked for.
func candidates(d *drill.Drill, w drill.Windows) ([]candidate, error) {
	body := footing.DefaultBody()
	body.ShoeMM = reachMM
	all, err := footing.Best(d, body, w, footing.Filter{}, searched)
	if err != nil {
		return nil, err
	}
	offered, err := footing.Plan(d, body, w, footing.Filter{}, planned)
	if err != nil {
		return nil, err
	}
	var chosen []*footing.Footing
	if d.Footing != nil {
		own, err := footing.Check(d, d.Footing, body, w)
		if err != nil {
			return nil, err
		}
		chosen = append(chosen, own)
	}
	count := make(map[string]int)
	take := func(f *footing.Footing, most int) {
		if count[f.Technique] >= most {
			return
		}
		for _, c := range chosen {
			if footing.SameKind(c.Contacts, f.Contacts) {
				return
			}
		}
		chosen = append(chosen, f)
		count[f.Technique]++
	}
	for _, f := range offered {
		take(f, planned)
	}
	for _, f := range all {
		take(f, eachMost)
	}
	return exchanged(weigh(d, chosen), func(c []drill.Contact) float64 {
		f, err := footing.Check(d, c, body, w)
		if err != nil {
			return math.Inf(-1) // it cannot be: the contacts are those of a footing
		}
		return weightOf(f)
	}), nil
}

// exchanged adds to each footing those that differ from it in which foot goes on after a
// landing of both: the planner takes them for one way to play, but a foot that must
// go leaves earlier. They share the prior of the footing by their weights, logarithms, since
// some would cross the legs.
func exchanged(of []candidate, weight func([]drill.Contact) float64) []candidate {
	for i, n := 0, len(of); i < n; i++ {
		c := &of[i]
		var after []int // landings of both feet that are not the last
		last := c.contacts[len(c.contacts)-1].Landing
		for j := 1; j < len(c.contacts); j++ {
			if at := c.contacts[j].Landing; at == c.contacts[j-1].Landing && at < last {
				after = append(after, at)
			}
		}
		after = after[:min(len(after), mostExchanged)]
		ways := 1 << len(after)
		if ways == 1 {
			continue
		}
		all, weights := c.logPrior, []float64{weight(c.contacts)}
		for way := 1; way < ways; way++ {
			v := *c
			v.contacts = slices.Clone(c.contacts)
			for bit, at := range after {
				for j := range v.contacts {
					if way>>bit&1 == 1 && v.contacts[j].Landing > at {
						v.contacts[j].Foot = v.contacts[j].Foot.Other()
					}
				}
			}
			of = append(of, v)
			c = &of[i]
			weights = append(weights, weight(v.contacts))
		}
		total := chain.LogSum(weights)
		c.logPrior = all + weights[0] - total
		for k, w := range weights[1:] {
			of[len(of)-len(weights)+1+k].logPrior = all + w - total
		}
	}
	return of
}

// weightOf gives the logarithm of a footing's weight before a press is seen.
func weightOf(f *footing.Footing) float64 {
	w := -loadWeight * f.Load
	if !f.Feasible {
		w -= failPenalty
	}
	return w
}

// weigh gives each footing its prior.
func weigh(d *drill.Drill, chosen []*footing.Footing) []candidate {
	weight := make([]float64, len(chosen)) // logarithms
	of := make(map[string][]float64)       // by technique
	most := make(map[string]float64)
	for i, f := range chosen {
		weight[i] = weightOf(f)
		if d.Footing != nil && footing.SameKind(f.Contacts, d.Footing) {
			weight[i] += asked
		}
		of[f.Technique] = append(of[f.Technique], weight[i])
		if f.Feasible {
			most[f.Technique] = 0
		} else if _, ok := most[f.Technique]; !ok {
			most[f.Technique] = -failPenalty
		}
	}
	total := 0.0
	for _, t := range drill.Techniques { // in their order, so that sums are the same each time
		if w, ok := most[t]; ok {
			total += math.Exp(w)
		}
	}
	cands := make([]candidate, len(chosen))
	for i, f := range chosen {
		logPrior := math.Log(1-priorOfMash) + most[f.Technique] - math.Log(total) + weight[i] - chain.LogSum(of[f.Technique])
		cands[i] = candidate{contacts: f.Contacts, technique: f.Technique, aims: f.Aims, logPrior: logPrior}
	}
	return cands
}

// edgesOf gives how a rep of these contacts begins and ends; ids are the sheet's.
func edgesOf(contacts []drill.Contact, ids []int32) (head, tail edge) {
	head = edge{contact: [2]int32{none, none}, beside: [2]int32{none, none}}
	tail = head
	for i := range contacts {
		c := &contacts[i]
		f := c.Foot
		if head.contact[f] == none {
			head.contact[f], head.beside[f] = ids[i], int32(c.Landing)
		}
		tail.contact[f], tail.beside[f] = ids[i], none
		if o := f.Other(); tail.contact[o] != none && tail.beside[o] == none && contacts[lastOf(contacts[:i], o)].Landing != c.Landing {
			tail.beside[o] = ids[i]
		}
	}
	return head, tail
}

// lastOf gives the index of the last contact of foot f.
func lastOf(contacts []drill.Contact, f pad.Foot) int {
	i := len(contacts) - 1
	for contacts[i].Foot != f {
		i--
	}
	return i
}

// none is no contact.
const none = -1
