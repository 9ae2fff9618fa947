package measure

import (
	"image"
	"image/color"
	"math"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/gonum/spatial/r2"
)

// stroke paints, within reach of the points, all that lies within half a width of
// a line: distance tells how far a place is from it, px. Edges are smoothed over
// one pixel.
func stroke(img *image.RGBA, in image.Rectangle, c color.RGBA, width float64, distance func(r2.Vec) float64) {
	in = in.Inset(-int(width) - 2).Intersect(img.Bounds())
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			cover := width/2 + 0.5 - distance(r2.Vec{X: float64(x), Y: float64(y)})
			if cover > 0 {
				blend(img, x, y, c, math.Min(cover, 1))
			}
		}
	}
}

func blend(img *image.RGBA, x, y int, c color.RGBA, part float64) {
	p := img.Pix[img.PixOffset(x, y):]
	for i, v := range [3]uint8{c.R, c.G, c.B} {
		p[i] = uint8(math.Round((1-part)*float64(p[i]) + part*float64(v)))
	}
}

// box returns the rectangle about points.
func box(points ...r2.Vec) image.Rectangle {
	r := image.Rect(int(points[0].X), int(points[0].Y), int(points[0].X)+1, int(points[0].Y)+1)
	for _, p := range points[1:] {
		r = r.Union(image.Rect(int(p.X), int(p.Y), int(p.X)+1, int(p.Y)+1))
	}
	return r
}

// round draws a circle; with dash > 0 in dashes of that length, px.
func round(img *image.RGBA, at r2.Vec, radius float64, c color.RGBA, width, dash float64) {
	corner := r2.Vec{X: radius, Y: radius}
	stroke(img, box(r2.Sub(at, corner), r2.Add(at, corner)), c, width, func(p r2.Vec) float64 {
		d := r2.Sub(p, at)
		if dash > 0 && math.Mod((math.Atan2(d.Y, d.X)+math.Pi)*radius, 2*dash) > dash {
			return math.Inf(1)
		}
		return math.Abs(r2.Norm(d) - radius)
	})
}

// line draws a straight line with round ends.
func line(img *image.RGBA, a, b r2.Vec, c color.RGBA, width float64) {
	along := r2.Sub(b, a)
	stroke(img, box(a, b), c, width, func(p r2.Vec) float64 {
		d := r2.Sub(p, a)
		t := r2.Dot(d, along) / math.Max(r2.Norm2(along), 1e-12)
		return r2.Norm(r2.Sub(d, r2.Scale(math.Min(math.Max(t, 0), 1), along)))
	})
}

// arrow draws a line with a head at b.
func arrow(img *image.RGBA, a, b r2.Vec, c color.RGBA, width float64) {
	line(img, a, b, c, width)
	along := r2.Sub(b, a)
	n := r2.Norm(along)
	if n < 1 {
		return
	}
	head := math.Min(20, 0.5*n) / n
	for _, side := range [2]float64{-0.5, 0.5} {
		wing := r2.Vec{X: -along.X - side*along.Y, Y: -along.Y + side*along.X}
		line(img, b, r2.Add(b, r2.Scale(head, wing)), c, width)
	}
}

// cross marks a centre.
func cross(img *image.RGBA, at r2.Vec, c color.RGBA, arm, width float64) {
	line(img, r2.Vec{X: at.X - arm, Y: at.Y}, r2.Vec{X: at.X + arm, Y: at.Y}, c, width)
	line(img, r2.Vec{X: at.X, Y: at.Y - arm}, r2.Vec{X: at.X, Y: at.Y + arm}, c, width)
}

// The letters: 7 px wide.
var face = basicfont.Face7x13

const lineHeight = 16

// write puts lines of text below one another.
func write(img *image.RGBA, x, y int, c color.RGBA, lines []string) {
	d := font.Drawer{Dst: img, Src: image.NewUniform(c), Face: face}
	for i, s := range lines {
		d.Dot = fixed.P(x, y+i*lineHeight+face.Ascent)
		d.DrawString(s)
	}
}

// wrap breaks a text into lines of at most width px, at blanks where there are any.
func wrap(text string, width int) []string {
	most := max(width/face.Advance, 10)
	var lines []string
	now := ""
	for _, word := range strings.Fields(text) {
		for len(now)+1+len(word) > most && now != "" || len(word) > most {
			if now == "" { // one long word
				now, word = word[:most], word[most:]
			}
			lines, now = append(lines, now), ""
		}
		now = strings.TrimLeft(now+" "+word, " ")
	}
	return append(lines, now)
}
