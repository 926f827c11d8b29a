// Package sound makes the click heard. A Stream makes it frame by frame as the
// device asks for it, a Map says when the device will play which frame, and a
// Player joins both to the machine's sound device, or says why it is silent.
//
// Due moments stay on the run's monotonic clock, by which presses are judged; the
// sound follows them. Where there is no device, or where it fails, nothing else
// changes: the schedule is the same, only unheard.
package sound
