package footing

// The load of a footing says how hard it is to play, so that footings that work
// can be put in order: it has no unit. A landing adds to it by how little time
// a foot has, how far the hips are turned, how far notes are from the moment at
// which they are struck together, and by what kind of contact it takes; effort in
// joules comes last and least. The weights are judgement, no source: they are set so that what players call
// the easiest way comes first (see the facts in this package's tests).
const (
	weightHaste   = 1.0  // × (time needed / time there is)², a contact
	weightTurn    = 0.8  // × (turn / 90°)², a landing
	weightGather  = 2.0  // × (span of the notes / outer window)², a landing
	weightBracket = 0.25 // a bracket
	weightRoll    = 1.1  // a roll
	weightLong    = 0.8  // a bracket or a roll for long feet only
	weightBoth    = 0.2  // a landing of both feet
	weightEffort  = 1e-3 // a joule
	mostHaste     = 2.0  // above it, time needed / time there is counts no more
)

// faultLoad is what a fault adds where a search orders footings: any number of
// them with fewer faults come before those with more.
const faultLoad = 1e6

// restedUS is after how long a foot is rested, in microseconds: more time makes
// the next contact no easier.
const restedUS = 300_000

// Of the estimate of effort: standard gravity in m/s², and the shortest time that a
// swing is taken to last, in microseconds.
const (
	gravity         = 9.80665
	shortestSwingUS = 50_000
)
