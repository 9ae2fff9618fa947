package measure

import (
	"cmp"
	"math"
	"slices"

	"halocue/internal/plain"
	"halocue/vision/ring"
)

// Say gives a text of the tools' sentences, "measure.lean", filled in.
type Say func(key string, args ...any) string

// Words says a line to a person.
func (l Line) Words(say Say) string {
	name := plain.Text(l.File, 200)
	switch {
	case l.Combined:
		name = say("measure.together", l.Frames)
	case l.Pair:
		name = say("measure.both-sides")
	}
	if !l.Found {
		return say("measure.nothing", name, say("measure."+string(l.Why)))
	}
	off := cmp.Or(l.Offset, l.Coma)
	s := say("measure.line", name, Way(say, *off, "px"), l.sigma(), *l.Waves, *l.Ratio, Way(say, *l.Axis, "mm"))
	if a := l.Seeing; a != nil {
		s += say("measure.seeing", a.FWHM, a.R0, a.Sigma, a.Frames)
	}
	for _, n := range l.Notes {
		s += "; " + say("measure.note-"+n.Code, n.args...)
	}
	return s
}

// lean is the offset's size, px.
func (l Line) lean() float64 {
	if l.Offset != nil {
		return math.Hypot(l.Offset.X, l.Offset.Y)
	}
	return math.Hypot(l.Coma.X, l.Coma.Y)
}

// sigma is the offset's one-sigma per axis, px.
func (l Line) sigma() float64 { return math.Hypot(l.Sigma.X, l.Sigma.Y) / math.Sqrt2 }

// Way says a vector as a person points.
func Way(say Say, v XY, unit string) string {
	x, y := "right", "down"
	if v.X < 0 {
		x = "left"
	}
	if v.Y < 0 {
		y = "up"
	}
	return say("measure.way", math.Abs(v.X), unit, say("measure."+x), math.Abs(v.Y), unit, say("measure."+y))
}

// enough is the number of frames of each side from which the air counts as averaged
// (judgement: what the air makes of one frame is half the tolerance of a mirror of
// 200 mm, and of eight a fifth).
const enough = 8

// Verdict says in sentences what the last line means, what it leaves open, and what to do
// next. The line rests on so many frames, of each side where it is a pair. Nothing is
// called inside the tolerance that has not been seen from both sides of focus, with a
// pixel that is known and the air averaged.
func (j *Job) Verdict(say Say, l Line, frames int) (sentences []string) {
	if !l.Found {
		return []string{say("measure.no-verdict")}
	}
	add := func(key string, args ...any) { sentences = append(sentences, say("measure."+key, args...)) }
	has := func(f ring.Flag) bool { return slices.Contains(l.Flags, f) }
	fewFrames := frames < enough
	if l.Seeing != nil {
		fewFrames = frames < l.Seeing.Frames
	}
	ratio := *l.Ratio
	most := ratio + 2*l.sigma()/j.allowed()
	if d := l.lean(); d > 0 { // with the pixel and the secondary that the line rests on
		most = ratio + 2*l.sigma()*ratio/d
	}
	proven := !has(ring.OneSide) && !has(ring.PixelGuessed) && !fewFrames
	switch {
	case ratio < 0.75 && most < 1 && proven:
		add("inside", ratio, most)
	case ratio < 0.75:
		add("about-part", math.Max(ratio, 0.1))
	case ratio < 1.25:
		add("about-one")
	case ratio < 1.75:
		add("about-half")
	default:
		add("about-many", ratio)
	}
	if least := 2*ratio - most; ratio >= 1.25 && least < 1 {
		add("may-be-inside")
	} else if ratio < 0.75 && most >= 1 {
		add("may-be-outside")
	}
	for _, open := range []struct {
		is  bool
		key string
	}{
		{has(ring.OneSide), "one-side"}, {has(ring.PixelGuessed), "pixel-guessed"}, {has(ring.PixelWrong), "pixel-seen"},
		{j.Telescope.Secondary <= 0 && l.Secondary == nil, "secondary-guessed"}, {has(ring.SomeClipped), "part-clipped"},
		{has(ring.PartOff), "part-off"}, {has(ring.SmallRing), "small-ring"},
	} {
		if open.is {
			add(open.key)
		}
	}
	switch {
	case fewFrames && l.Seeing != nil:
		add("air-frames", l.Seeing.Frames, frames)
	case frames == 1:
		add("one-frame")
	case fewFrames:
		add("few-frames", frames)
	}
	switch {
	case has(ring.OneSide):
		add("next-other-side")
	case has(ring.PixelGuessed):
		add("next-pixel")
	case most >= 1 && ratio >= 0.75:
		add("next-turn")
	case fewFrames:
		add("next-frames")
	case most >= 1:
		add("next-turn")
	default:
		add("next-none")
	}
	return sentences
}
