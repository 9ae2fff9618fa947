package measure

import (
	"image"
	"image/color"
	"math"
	"strings"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/gonum/spatial/r2"
)

// pen draws lines on a picture, between the centres of pixels.
type pen struct{ *gg.Context }

func newPen(img *image.RGBA) pen {
	p := pen{gg.NewContextForRGBA(img)}
	p.Translate(0.5, 0.5)
	return p
}

// ticks marks a circle by n short lines that begin on it, length px outward, or inward where
// that is negative.
func (p pen) ticks(at r2.Vec, radius, length float64, n int, c color.RGBA, width float64) {
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out := r2.Vec{X: cos, Y: sin}
		p.line(r2.Add(at, r2.Scale(radius, out)), r2.Add(at, r2.Scale(radius+length, out)), c, width)
	}
}

// line draws a straight line with round ends.
func (p pen) line(a, b r2.Vec, c color.RGBA, width float64) {
	p.SetLineCapRound()
	p.DrawLine(a.X, a.Y, b.X, b.Y)
	p.SetColor(c)
	p.SetLineWidth(width)
	p.Stroke()
}

// arrow draws a line with a head at b.
func (p pen) arrow(a, b r2.Vec, c color.RGBA, width float64) {
	p.line(a, b, c, width)
	along := r2.Sub(b, a)
	n := r2.Norm(along)
	if n < 1 {
		return
	}
	head := math.Min(20, 0.5*n) / n
	for _, side := range [2]float64{-0.5, 0.5} {
		wing := r2.Vec{X: -along.X - side*along.Y, Y: -along.Y + side*along.X}
		p.line(b, r2.Add(b, r2.Scale(head, wing)), c, width)
	}
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
