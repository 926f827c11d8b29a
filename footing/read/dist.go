package read

import "math"

// log2Pi is log 2π.
var log2Pi = math.Log(2 * math.Pi)

// normal gives the density of a standard normal variable at z and the probability
// that it is above z. In the far tails, where either is below 1e-15, it gives 0
// for it: whoever adds them up has a floor far above that.
func normal(z float64) (density, above float64) {
	const perRoot2Pi, far = 0.398942280401432677939946, 8.2
	switch {
	case z > far:
		return 0, 0
	case z < -far:
		return 0, 1
	}
	return perRoot2Pi * math.Exp(-z*z/2), math.Erfc(z/math.Sqrt2) / 2
}

// scale is a spread, ready for use: its logarithm and its inverse.
type scale struct{ log, per float64 }

func newScale(log float64) scale { return scale{log, math.Exp(-log)} }

// student is Student's t of timingTails degrees of freedom, scaled: the
// logarithm of its density at x, with its derivatives by x and by the logarithm of the scale.
func student(x float64, s scale) (logP, byX, byLog float64) {
	z := x * s.per
	q := 1 + z*z/timingTails
	logP = studentConst - s.log - (timingTails+1)/2*math.Log(q)
	byX = -(timingTails + 1) / timingTails * z / q * s.per
	return logP, byX, -x*byX - 1
}

// toldByStudent gives Fisher's information of such a variable about its place and the logarithm of its scale, which
// tell nothing of each other (Lange, Little and Taylor 1989).
func toldByStudent(s scale) [2]float64 {
	const n = timingTails
	return [2]float64{(n + 1) / (n + 3) * s.per * s.per, 2 * n / (n + 3)}
}

// studentConst is the logarithm of the density's factor.
var studentConst = func() float64 {
	a, _ := math.Lgamma((timingTails + 1) / 2.0)
	b, _ := math.Lgamma(timingTails / 2.0)
	return a - b - math.Log(timingTails*math.Pi)/2
}()

// softFloor gives x where it is well above floor and floor where it is well below,
// smoothly over soft, and its derivative: a hyperbola.
func softFloor(x, floor, soft float64) (y, by float64) {
	u := (x - floor) / (2 * soft)
	root := math.Sqrt(u*u + 1)
	return floor + soft*(u+root), (1 + u/root) / 2
}
