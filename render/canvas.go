// Package render draws what trainer/view holds: the live screen, the pages
// beside it and pictures for print. It draws on a small canvas, which is a
// picture in memory, an SVG file or, in render/window, the screen, so that one
// drawing serves all three and can be tested without a display.
package render

import "image/color"

// Canvas is what is drawn on. Lengths are in pixels, x grows to the right and y
// downwards. What is drawn later covers what was drawn before.
type Canvas interface {
	// Rect fills an upright rectangle.
	Rect(x, y, w, h float32, c color.RGBA)
	// Polygon fills a convex polygon of at least three corners. The canvas does
	// not keep corners.
	Polygon(corners []Point, c color.RGBA)
	// Text writes s from x to the right, its baseline at y. The canvas does not
	// keep s. Runes that the face lacks are drawn as a box.
	Text(x, y float32, t Type, c color.RGBA, s []byte)
}

// Point is a place on a canvas, in pixels.
type Point struct{ X, Y float32 }

// Face is a typeface.
type Face uint8

// Type is a typeface at a size: Size is the em in whole pixels.
type Type struct {
	Face Face
	Size int
}
