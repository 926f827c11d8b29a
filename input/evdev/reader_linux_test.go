package evdev

import (
	"encoding/binary"
	"os"
	"testing"
	"time"
	"unsafe"
)

// encode writes a struct input_event (linux/input.h, where a time is two words of 64 bits).
func encode(b []byte, us int64, kind, num uint16, value int32) []byte {
	b = binary.NativeEndian.AppendUint64(b, uint64(us/1e6))
	b = binary.NativeEndian.AppendUint64(b, uint64(us%1e6))
	b = binary.NativeEndian.AppendUint16(b, kind)
	b = binary.NativeEndian.AppendUint16(b, num)
	return binary.NativeEndian.AppendUint32(b, uint32(value))
}

// Events were dropped: what still waits is older than the state that is read
// anew, even where it fills the buffer several times, and none of it is taken.
func TestDroppedEventsAreFollowedByTheState(t *testing.T) {
	if unsafe.Sizeof(uintptr(0)) != 8 {
		t.Skip("the events of this test are those of a machine of 64 bits")
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	const held = btnSouth + 1 // is down in truth
	asked := 0
	d := &file{f: r, ask: func(request uint, arg unsafe.Pointer) error {
		switch request {
		case getKeys:
			asked++
			keys := unsafe.Slice((*byte)(arg), keyCount/8)
			keys[held/8] |= 1 << (held % 8)
		case getBits:
			*(*uint64)(arg) = 1 << absX
		case getAxis + absX:
			*(*int32)(arg) = -300
		default:
			t.Errorf("it asks %#x", request)
		}
		return nil
	}}
	var b []byte
	b = encode(b, 1_000_000, typeKey, btnSouth, 1)
	b = encode(b, 1_000_000, typeSyn, synReport, 0)
	b = encode(b, 2_000_000, typeSyn, synDropped, 0)
	for i := range int64(200) {
		b = encode(b, 2_000_000+i, typeKey, btnSouth, int32(i+1)%2)
		b = encode(b, 2_000_000+i, typeSyn, synReport, 0)
	}
	if _, err := w.Write(b); err != nil {
		t.Fatal(err)
	}
	down := func(code int) bool { return d.state.report[code/8]>>(code%8)&1 != 0 }
	calls := 0
	before := monotonic()
	err = d.read(time.Second, func(us int64, lost bool) {
		switch calls++; calls {
		case 1:
			if us != 1_000_000 || lost || !down(btnSouth) || down(held) {
				t.Errorf("first at %d, lost %v, keys %v %v", us, lost, down(btnSouth), down(held))
			}
		case 2:
			axis := int16(binary.LittleEndian.Uint16(d.state.report[keyCount/8+2*absX:]))
			if us < before || us > monotonic() || !lost || down(btnSouth) || !down(held) || axis != -300 {
				t.Errorf("after the drop at %d, lost %v, keys %v %v, axis %d", us, lost, down(btnSouth), down(held), axis)
			}
		default:
			t.Errorf("an event is taken that is older than the state, at %d", us)
		}
	})
	if err != nil || calls != 2 || asked != 1 {
		t.Fatalf("%d reports, asked %d times, %v", calls, asked, err)
	}
	// Nothing is left over; what comes then is taken as ever.
	if _, err := w.Write(encode(encode(nil, 3_000_000, typeKey, held, 0), 3_000_000, typeSyn, synReport, 0)); err != nil {
		t.Fatal(err)
	}
	err = d.read(time.Second, func(us int64, lost bool) {
		if calls++; us != 3_000_000 || lost || down(held) {
			t.Errorf("then at %d, lost %v, key %v", us, lost, down(held))
		}
	})
	if err != nil || calls != 3 {
		t.Fatalf("%d reports, %v", calls, err)
	}
}
