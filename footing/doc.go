// Package footing is how two feet play a drill's notes: which foot, which panels, in
// which landing. It plans footings for a drill (Plan, Best, Over), says what a
// footing asks (Check) and what it is called (Technique). It knows bodies and
// pads, and no pattern.
//
// # The body model
//
// All figures of the body stand in Body, each with its source.
//
// A foot is an outsole with round ends. It presses a panel if it reaches over its edge by
// the cover, and two panels if there is a place and an angle at which it so reaches
// both and no third one; it need not use its whole length, since it can stand on heel or
// ball. Which pairs of panels that gives, at which angles, follows from the rectangles of the
// layout alone (reach.go). In a roll the foot has both panels in turn and gets a
// little further, since it turns or slides over the gap. What was measured of the player's own feet (Pairs) goes before that,
// as times that were measured (Limit, Asks) go before the default ones.
//
// The player faces square to the line from the left foot to the right one; a foot on
// two panels stands midway between their centres. A foot can turn against the hips, far
// outwards and little inwards, so a stance decides whether an angle can be had. Where both
// feet are at one point, or one has pressed nothing yet, the hips are free. A
// foot that presses nothing stays where it last came down, or steps beside it
// where the other foot takes its panel; it can rest on a dead cell.
//
// A landing comes down midway between the first and the last note that it strikes at once; a
// roll's second note has its own moment. Between two landings of one foot there
// must be time:
//
//   - Cycle, if the other foot came down between them;
//   - Alone, if it is the same foot alone again: for the second, the third and every further time;
//   - Together, if both feet come down again, or one of a landing of both, or both after one;
//   - and always Press and Swing, and SwingPerMetre for the way;
//   - after a landing of both feet Stagger more.
//
// A foot that holds a note stays. If it is called for one note on a panel that it can
// bracket with the held one, it taps it (toe holds, heel taps, or the other way round). Otherwise the
// other foot takes the hold over, if it holds nothing and does not come down in that
// landing, and has to have the time to get there. Otherwise the footing fails. A foot
// may leave a hold HoldEarly before its end.
//
// # Feasibility and tempo
//
// A footing works at a tempo if every contact has its time, every foot can lie and turn as
// its panels ask, feet that both press are no further apart than StanceMM, and the
// notes of each landing span no more than the outer band. The rep is a loop: the feet
// begin as the rep leaves them, after its rest. Time needed does not depend on
// the tempo, so there is one fastest tempo; gathered notes give a slowest one for each band.
//
// # Load and effort
//
// Of footings that work the one with less load comes first (load.go): haste, turn of
// the hips, notes struck off their moment, kinds of contact, and last and least
// effort. EffortJ is an estimate, no measurement: for each contact the leg below the knee,
// .061 of the body's mass (Winter 2009, table 4.1), is lifted by LiftMM and moved over its way
// in its time: m g h + m v²/2. Nothing is said about flight, since feet
// may stand on dead cells.
//
// # What is searched
//
// The space of footings is defined at the head of options.go. Two footings are one way to
// play (SameKind) if they differ only by an exchange of feet. The search walks all
// states that the feet can be in, group by group of notes, and is exact: what it gives is what trying all
// footings gives. Its time grows linearly with the notes.
package footing
