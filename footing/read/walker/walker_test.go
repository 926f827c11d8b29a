package walker

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// When a foot leaves is drawn by the law that the genie knows: its density comes to 1, and of
// many that are drawn so many lie below a moment as the integral says.
func TestGenieKnowsTheLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		time := func(name string) float64 { return rapid.Float64Range(20, 400).Draw(t, name) }
		d := departure{earliest: time("earliest")}
		for range rapid.IntRange(1, 4).Draw(t, "causes") {
			d.add(cause{moment: time("moment"), mean: time("mean"), shape: rapid.Float64Range(4, 40).Draw(t, "shape"), before: rapid.Bool().Draw(t, "before")})
		}
		w := &walk{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))}
		const n = 400
		below, at := 0.0, d.draw(w)
		for range n {
			if d.draw(w) <= at {
				below++
			}
		}
		density := func(x float64) float64 { return math.Exp(d.log(x)) }
		part, whole := 0.0, 0.0
		const width = 2 // ms; the density has corners where the settling begins and ends
		for from := d.earliest; from < 3000; from += width {
			whole += quad.Fixed(density, from, from+width, 8, nil, 0)
			if from < at {
				part += quad.Fixed(density, from, min(at, from+width), 8, nil, 0)
			}
		}
		if math.Abs(whole-1) > 1e-3 {
			t.Fatalf("the density comes to %v", whole)
		}
		if p := distuv.UnitNormal.CDF(-math.Abs(below-n*part) / math.Sqrt(n*part*(1-part)+1)); p < 1e-6 {
			t.Fatalf("of %d draws %v are below %v ms, by the law %.1f", n, below, at, n*part)
		}
	})
}
