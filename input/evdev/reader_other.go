//go:build !linux

package evdev

import (
	"context"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// Reader hears nothing: input events are Linux's.
type Reader struct {
	Devices   []input.Identity
	Reconnect time.Duration
	Opened    func(t pad.Time, device int, again bool)
	Idle      func(t pad.Time)
	Dropped   func(t pad.Time, device int)
}

// Run gives a *Lacking.
func (r *Reader) Run(context.Context, input.Clock, func(t pad.Time, device int, report []byte) error) error {
	return &Lacking{"only Linux has input events; use the road hid"}
}
