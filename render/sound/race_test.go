//go:build race

package sound_test

const raceDetector = true
