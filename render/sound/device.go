package sound

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"github.com/ebitengine/oto/v3"

	"heeltoe/footing/pad"
)

// Device opens what plays a stream.
type Device interface {
	// Open begins to read r, which must have been made ready for the reading
	// before: attach is called with the output first. It may wait.
	Open(r io.Reader, attach func(Output)) error
}

// Machine is the sound device of this machine, the one the system names as its
// default or else the first that opens.
var Machine Device = machine{}

// Numbers of the machine's device.
const (
	// A player's buffer under the device's period would be padded with zeros
	// each period; at 100 ms and more this was exact to the sample.
	bufferFrames = SampleRate / 10
	// What the library asks the system for: two periods of 1024 frames.
	periodFrames, periods = 1024, 2
	openWait              = 10 * time.Second
)

type machine struct{}

// The library can make one context a process; whatever came of it stays.
var theContext = sync.OnceValues(func() (*oto.Context, error) {
	quieten()
	c, ready, err := oto.NewContext(&oto.NewContextOptions{SampleRate: SampleRate, ChannelCount: Channels, Format: oto.FormatFloat32LE})
	if err != nil {
		return nil, err
	}
	select {
	case <-ready:
	case <-time.After(openWait):
		return nil, errors.New("it does not answer")
	}
	return c, c.Err()
})

func (machine) Open(r io.Reader, attach func(Output)) error {
	c, err := theContext()
	if err != nil {
		return fmt.Errorf("no sound device could be opened: %s", plain(err))
	}
	p := c.NewPlayer(r)
	p.SetBufferSize(bufferFrames * FrameBytes)
	attach(&player{Player: p, context: c})
	p.Play()
	return nil
}

// plain cuts down what the library says to what the system said of its default
// device, which it asks first.
func plain(err error) string {
	msg := strings.TrimPrefix(err.Error(), "oto: ")
	if all, ok := strings.CutPrefix(msg, "ALSA error at snd_pcm_open: "); ok {
		first, _, _ := strings.Cut(all, `, "`)
		return first + ", and no other opens"
	}
	return msg
}

// player is an Output by the library.
type player struct {
	*oto.Player
	context *oto.Context
}

// Delay is that of the device's full ring, as far as the library asks for it;
// a device may have more of its own, which only the player's presses can tell.
func (p *player) Delay() pad.Time { return periods * periodFrames * pad.Second / SampleRate }

func (p *player) Err() error {
	if err := p.context.Err(); err != nil {
		return err
	}
	return p.Player.Err()
}

func (p *player) Close() error {
	p.Pause()
	return nil
}
