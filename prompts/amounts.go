package prompts

import (
	"fmt"
	"math"
)

// An amount is a word for a part of a turn, good up to the given turns. The
// borders lie halfway in proportion, since a hand errs by a share of what it
// turns (a third or so), not by a fixed angle.
type amount struct {
	upTo float64
	key  string
}

var amounts = []amount{
	{1.0 / 32, "touch"},
	{1.0 / 12, "slightly"},
	{0.177, "eighth"},
	{0.289, "quarter"},
	{0.408, "third"},
	{0.612, "half"},
	{0.866, "three-quarters"},
	{1.118, "whole"},
	{1.369, "whole-quarter"},
	{1.732, "whole-half"},
	{2.449, "double"},
}

// amount says how far to turn, in words. turns > 0.
func (p *Phrases) amount(turns float64) (string, error) {
	if math.IsNaN(turns) || math.IsInf(turns, 0) || turns > 100 {
		return "", fmt.Errorf("no knob is turned by %g turns", turns)
	}
	for _, a := range amounts {
		if turns <= a.upTo {
			return p.message("amount."+a.key, nil, nil)
		}
	}
	n := int(math.Round(turns))
	return p.message("amount.turns", map[string]any{"N": n}, n)
}

// Denominators of the fractions of a wave that have words.
var denominators = []int{100, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4, 3, 2}

// fraction says how large a wavefront error is, rounded up to the next
// fraction with a name: the words never flatter the mirror.
func (p *Phrases) fraction(waves float64) (string, error) {
	for _, d := range denominators {
		if waves <= 1/float64(d) {
			return p.message(fmt.Sprintf("fraction.d%d", d), nil, nil)
		}
	}
	return p.message("fraction.d1", nil, nil)
}

// result says how good the mirror is now, "" where the arguments do not tell:
// waves is the coma's RMS, ratio the error in tolerances.
func (p *Phrases) result(args map[string]any) (string, error) {
	waves, ok1 := number(args["waves"])
	ratio, ok2 := number(args["ratio"])
	if !ok1 || !ok2 || !(waves >= 0) || !(ratio >= 0) {
		return "", nil
	}
	reached, err := p.fraction(waves)
	if err != nil {
		return "", err
	}
	data := map[string]any{"Fraction": reached}
	key := "result.better"
	switch {
	case ratio > 1:
		key = "result.short"
		if data["Goal"], err = p.fraction(waves / ratio); err != nil {
			return "", err
		}
		if data["Goal"] == reached { // the words cannot tell them apart
			key = "result.close"
		}
	case ratio > 0.8:
		key = "result.within"
	}
	text, err := p.message(key, data, nil)
	return sentences(text), err
}

// times says how many tolerances the mirror is off.
func (p *Phrases) times(ratio float64) (string, error) {
	switch {
	case ratio <= 1:
		return p.message("times.inside", nil, nil)
	case ratio < 1.75:
		return p.message("times.one-half", nil, nil)
	}
	n := int(math.Round(math.Min(ratio, 99)))
	return p.message("times.many", map[string]any{"N": n}, n)
}
