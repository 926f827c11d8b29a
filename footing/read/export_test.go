package read

// Tempering is the share of a difference in evidence that is believed.
const Tempering = tempering

// Tempered gives the reader that believes another share.
func (r *Reader) Tempered(share float64) *Reader {
	o := *r
	o.tempering = share
	return &o
}

// Parts are what can be left out of a reading, by name.
var Parts = []string{"competing releases", "handing over", "the chain", "adaptation", "many starts", "weighed modes", "panels' own dwell", "carrying over"}

// Without gives the reader without one of Parts.
func (r *Reader) Without(i int) *Reader {
	o := *r
	o.without = 1 << i
	return &o
}
