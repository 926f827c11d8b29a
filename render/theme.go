package render

import "image/color"

// Theme is the colours of a page. All are opaque. Feet have hues, and nothing
// else has one; feet differ by hatching as well, so that hue is never needed.
//
// Text reaches 7:1 against all that lies under it, marks that carry meaning 3:1
// against the paper (WCAG 2.2, 1.4.6 and 1.4.11). A pressed panel is less than a
// tenth of full luminance away from one that is up, so that presses, however
// fast, are no flashes (WCAG 2.2, 2.3.1).
type Theme struct {
	Name   string
	Ground color.RGBA // of the page
	Paper  color.RGBA // of a part of it
	Ink    color.RGBA // text and what matters
	Soft   color.RGBA // text that matters less
	Mark   color.RGBA // bounds, edges, traces of feet unknown
	Grid   color.RGBA // slots: only a help for the eye
	Beat   color.RGBA // beats: heavier
	Past   [3]color.RGBA
	Window [3]color.RGBA // inner, middle, outer: pale, their bounds are Mark
	Panel  color.RGBA
	Down   color.RGBA // a panel that is pressed
	Dead   color.RGBA
	Foot   [2]color.RGBA // the hatching, by pad.Foot
	Tint   [2]color.RGBA // under the hatching
	Edge   [2]color.RGBA // round the hatching
	Any    color.RGBA    // under a mark of a foot unknown
	Focus  color.RGBA    // under what the keys act on
}

// gray gives a neutral colour.
func gray(v uint8) color.RGBA { return color.RGBA{v, v, v, 255} }

func rgb(v uint32) color.RGBA { return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255} }

// Bluish green and reddish purple of the palette that Okabe and Ito (2008) made
// for all kinds of colour vision.
const (
	bluishGreen   = 0x009E73
	reddishPurple = 0xCC79A7
)

// The themes: for a dark room, for daylight, and for paper in black and white.
var (
	Dark = &Theme{
		Name: "dark", Ground: rgb(0x0E1013), Paper: rgb(0x15181C),
		Ink: rgb(0xF7F8F9), Soft: rgb(0xBCC2C8), Mark: rgb(0x868D95), Grid: rgb(0x24282D), Beat: rgb(0x3C4249),
		Past:   [3]color.RGBA{rgb(0x868D95), rgb(0x6C737B), rgb(0x5F666E)},
		Window: [3]color.RGBA{rgb(0x3E444B), rgb(0x30353B), rgb(0x23272C)},
		Panel:  rgb(0x2A2E33), Down: rgb(0x4A5057), Dead: rgb(0x15181C),
		Foot: [2]color.RGBA{rgb(bluishGreen), rgb(reddishPurple)},
		Tint: [2]color.RGBA{rgb(0x12392F), rgb(0x46303F)},
		Edge: [2]color.RGBA{rgb(bluishGreen), rgb(reddishPurple)},
		Any:  rgb(0x5D646C), Focus: rgb(0x353B42),
	}
	Light = &Theme{
		Name: "light", Ground: rgb(0xFFFFFF), Paper: rgb(0xFFFFFF),
		Ink: rgb(0x0D0F11), Soft: rgb(0x3C4248), Mark: rgb(0x6B7279), Grid: rgb(0xECEEF0), Beat: rgb(0xC4C9CE),
		Past:   [3]color.RGBA{rgb(0x6B7279), rgb(0x7F868D), rgb(0x8E959C)},
		Window: [3]color.RGBA{rgb(0xCDD2D7), rgb(0xDDE1E5), rgb(0xECEEF0)},
		Panel:  rgb(0xE7E9EC), Down: rgb(0xDADDE1), Dead: rgb(0xF8F9FA),
		Foot: [2]color.RGBA{rgb(bluishGreen), rgb(reddishPurple)},
		Tint: [2]color.RGBA{rgb(0xDDF2EB), rgb(0xF9EAF2)},
		Edge: [2]color.RGBA{rgb(0x5A6168), rgb(0x5A6168)},
		Any:  rgb(0xB4BAC0), Focus: rgb(0xDFE3E7),
	}
	Print = &Theme{
		Name: "print", Ground: gray(255), Paper: gray(255),
		Ink: gray(0), Soft: gray(0), Mark: gray(90), Grid: gray(235), Beat: gray(190),
		Past:   [3]color.RGBA{gray(90), gray(120), gray(140)},
		Window: [3]color.RGBA{gray(205), gray(225), gray(240)},
		Panel:  gray(255), Down: gray(225), Dead: gray(245),
		Foot: [2]color.RGBA{gray(0), gray(0)},
		Tint: [2]color.RGBA{gray(255), gray(255)},
		Edge: [2]color.RGBA{gray(0), gray(0)},
		Any:  gray(180), Focus: gray(230),
	}
)
