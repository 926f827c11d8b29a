package live

import (
	"context"
	"time"

	"heeltoe/footing/pad"
)

// WallClock is the monotonic clock of the machine, 0 at the moment it was made.
type WallClock struct{ start time.Time }

// NewClock starts a clock and gives the wall-clock time of its zero.
func NewClock() (*WallClock, time.Time) {
	now := time.Now()
	return &WallClock{start: now}, now
}

// Now implements input.Clock.
func (c *WallClock) Now() pad.Time { return pad.FromDuration(time.Since(c.start)) }

// Until implements input.Clock.
func (c *WallClock) Until(ctx context.Context, t pad.Time) error {
	wait := t - c.Now()
	if wait <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(wait.Duration())
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
