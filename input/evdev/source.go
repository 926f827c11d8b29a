package evdev

import (
	"context"
	"fmt"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// ReconnectTime is how long a device that went away is looked for.
const ReconnectTime = time.Second

// jitter is how late a reader may come to the lock after the kernel stamped.
const jitter = 25 * pad.Millisecond

// Source gives the edges of a pad that was taught by its events. It implements
// input.Source.
type Source struct {
	// Held is called where panels are down when the pad is opened. It runs on a
	// reading goroutine; it may be nil.
	Held func(panels pad.PanelSet)

	name   string
	m      *input.Map
	reader Reader
}

// Open makes the source of the pad that m describes; name is what the player
// calls it. It gives a *Lacking where a device is not there or cannot be opened.
// The devices themselves are opened by Run.
func Open(name string, m *input.Map) (*Source, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	list, err := List()
	if err != nil {
		return nil, err
	}
	s := &Source{name: name, m: m, reader: Reader{Reconnect: ReconnectTime}}
	for _, d := range m.Devices {
		found, err := Find(list, d.Identity)
		if err != nil {
			return nil, err
		}
		if found.Closed != nil {
			return nil, found.Closed
		}
		s.reader.Devices = append(s.reader.Devices, d.Identity)
	}
	return s, nil
}

// Describe implements input.Source.
func (s *Source) Describe() string {
	return fmt.Sprintf("%s (input events of %s)", s.name, s.reader.Devices[0])
}

// Run implements input.Source. Its errors are those of Reader.Run.
func (s *Source) Run(ctx context.Context, clock input.Clock, q *input.Queue) error {
	f, err := input.NewFunnel(s.m, q, jitter, s.Held)
	if err != nil {
		return err
	}
	r := s.reader
	r.Opened, r.Idle = f.Opened, f.Idle
	var last [input.MaxDevices]pad.Time // when the report before came
	r.Dropped = func(t pad.Time, device int) {
		// At most one report a millisecond comes at full speed (USB 2.0, 9.6.6).
		f.Gap(t, device, uint32(max(1, min((t-last[device])/pad.Millisecond, 1<<31))))
	}
	err = r.Run(ctx, clock, func(t pad.Time, device int, report []byte) error {
		last[device] = t
		f.Report(t, device, report)
		return nil
	})
	f.End()
	return err
}
