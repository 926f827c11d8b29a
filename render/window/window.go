// Package window puts drawings on the screen and tells what was pressed on the
// keyboard and the mouse. It is the only importer of ebiten. Importing it, even
// indirectly, ends a program that has no display before its main begins: a
// program that uses it imports its guard package, too.
package window

import (
	"context"
	"time"

	"github.com/hajimehoshi/ebiten/v2"
	"github.com/hajimehoshi/ebiten/v2/inpututil"

	"heeltoe/render"
	"heeltoe/trainer/turns"
)

// Smallest size of the window in pixels that do not depend on the screen's scale.
const (
	MinWidth  = 800
	MinHeight = 600
)

// Input is what happened since the frame before. Its slices are reused.
type Input struct {
	Pressed  []string // names of keys that went down, by their place on the board
	Released []string // and up
	Repeated []string // that are held long enough to count again
	Typed    []rune
	Shift    bool
	Clicked  bool // the left button went down, at X, Y
	X, Y     float32
	Wheel    float32 // lines, above 0 away from the player
	Focused  bool
	Scale    float32 // pixels of the screen for one of a plain display
	Closing  bool    // the window is to be closed
}

// Page is what the window shows. Both methods are called once a frame on the
// same goroutine, Update first.
type Page interface {
	// Update takes what happened; it gives false to close the window.
	Update(in *Input) bool
	// Draw draws the frame, w by h pixels, all of it.
	Draw(c render.Canvas, w, h int)
}

// Options are how the window begins.
type Options struct {
	Title         string
	Width, Height int // in pixels that do not depend on the screen's scale
	FullScreen    bool
}

// Stats are figures of the drawing, for measuring.
type Stats struct {
	Frames  int
	Drawing time.Duration // spent in Draw, all frames
	Strokes int           // of the last frame: things drawn
}

// Run shows p until it ends or ctx does. It must be called by the program's
// main goroutine. stats, where it is not nil, is brought up to date by each frame.
func Run(ctx context.Context, p Page, o Options, stats *Stats) error {
	if stats == nil {
		stats = &Stats{}
	}
	ebiten.SetWindowTitle(o.Title)
	ebiten.SetWindowSize(max(o.Width, MinWidth), max(o.Height, MinHeight))
	ebiten.SetWindowSizeLimits(MinWidth, MinHeight, -1, -1)
	ebiten.SetWindowResizingMode(ebiten.WindowResizingModeEnabled)
	ebiten.SetWindowClosingHandled(true)
	ebiten.SetFullscreen(o.FullScreen)
	ebiten.SetRunnableOnUnfocused(true)
	ebiten.SetTPS(ebiten.SyncWithFPS)
	ebiten.SetScreenClearedEveryFrame(false) // pages fill all of it
	turns.Late()
	// On a single thread drawing needs no hand-over, and its niceness holds.
	return ebiten.RunGameWithOptions(&game{ctx: ctx, page: p, stats: stats, batch: newBatch()}, &ebiten.RunGameOptions{SingleThread: true})
}

// ToggleFullScreen changes between a window and the whole screen.
func ToggleFullScreen() { ebiten.SetFullscreen(!ebiten.IsFullscreen()) }

// game is the page as ebiten calls it.
type game struct {
	ctx   context.Context
	page  Page
	stats *Stats
	batch *batch
	in    Input
	keys  []ebiten.Key
	over  bool
}

// Update implements ebiten.Game.
func (g *game) Update() error {
	if g.ctx.Err() != nil {
		g.over = true
	}
	if g.over {
		return ebiten.Termination
	}
	in := &g.in
	in.Pressed, in.Released, in.Repeated = in.Pressed[:0], in.Released[:0], in.Repeated[:0]
	g.keys = inpututil.AppendJustPressedKeys(g.keys[:0])
	for _, k := range g.keys {
		in.Pressed = append(in.Pressed, k.String())
	}
	g.keys = inpututil.AppendJustReleasedKeys(g.keys[:0])
	for _, k := range g.keys {
		in.Released = append(in.Released, k.String())
	}
	g.keys = inpututil.AppendPressedKeys(g.keys[:0])
	for _, k := range g.keys {
		if n := inpututil.KeyPressDuration(k); n > 30 && n%4 == 0 {
			in.Repeated = append(in.Repeated, k.String())
		}
	}
	in.Typed = ebiten.AppendInputChars(in.Typed[:0])
	in.Shift = ebiten.IsKeyPressed(ebiten.KeyShift)
	in.Clicked = inpututil.IsMouseButtonJustPressed(ebiten.MouseButtonLeft)
	x, y := ebiten.CursorPosition()
	in.X, in.Y = float32(x), float32(y)
	_, wheel := ebiten.Wheel()
	in.Wheel = float32(wheel)
	in.Focused = ebiten.IsFocused()
	in.Scale = float32(ebiten.Monitor().DeviceScaleFactor())
	in.Closing = ebiten.IsWindowBeingClosed()
	if !g.page.Update(in) {
		return ebiten.Termination
	}
	return nil
}

// Draw implements ebiten.Game.
func (g *game) Draw(screen *ebiten.Image) {
	began := time.Now()
	b := screen.Bounds()
	g.page.Draw(g.batch, b.Dx(), b.Dy())
	if g.batch.atlas.settle() { // full of glyphs that are not used any more
		g.batch.forget()
		g.page.Draw(g.batch, b.Dx(), b.Dy())
	}
	g.stats.Strokes = len(g.batch.now.strokes)
	g.batch.show(screen)
	g.stats.Frames++
	g.stats.Drawing += time.Since(began)
}

// Layout implements ebiten.Game.
func (g *game) Layout(w, h int) (int, int) {
	s := ebiten.Monitor().DeviceScaleFactor()
	return int(float64(w) * s), int(float64(h) * s)
}
