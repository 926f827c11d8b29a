package evdev

import "encoding/binary"

// Counts of the kernel's codes (linux/input-event-codes.h).
const (
	keyCount = 0x300
	absCount = 0x40
)

// ReportBytes is the length of the report that a device's state is made into.
const ReportBytes = keyCount/8 + 2*absCount

// Types and codes of events (linux/input-event-codes.h).
const (
	typeSyn = 0x00
	typeKey = 0x01
	typeAbs = 0x03

	synReport  = 0
	synDropped = 3
)

// event is a struct input_event of the kernel's, its time in microseconds.
type event struct {
	us        int64
	kind, num uint16
	value     int32
}

// state is what a device's keys and axes are, as a report.
type state struct {
	report  [ReportBytes]byte
	dropped bool // events are missing: nothing counts until the state was read anew
}

// outcome is what an event came to.
type outcome uint8

const (
	more   outcome = iota // the report is not whole yet
	whole                 // the state is that of the event's moment
	broken                // events are missing: the state must be read anew
)

// take takes the next event.
func (s *state) take(e event) outcome {
	switch {
	case e.kind == typeSyn && e.num == synDropped:
		s.dropped = true
	case e.kind == typeSyn && e.num == synReport:
		if s.dropped {
			s.dropped = false
			return broken
		}
		return whole
	case s.dropped:
	case e.kind == typeKey && e.num < keyCount:
		at, bit := e.num/8, byte(1)<<(e.num%8)
		if s.report[at] &^= bit; e.value != 0 { // 2 is a key that is held and repeats
			s.report[at] |= bit
		}
	case e.kind == typeAbs && e.num < absCount:
		s.axis(int(e.num), e.value)
	}
	return more
}

// axis sets the position of an axis.
func (s *state) axis(code int, v int32) {
	v = max(-1<<15, min(v, 1<<15-1))
	binary.LittleEndian.PutUint16(s.report[keyCount/8+2*code:], uint16(int16(v)))
}
