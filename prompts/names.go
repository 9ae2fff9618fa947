package prompts

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"github.com/nicksnyder/go-i18n/v2/i18n"

	"halocue/internal/words"
)

// Other names that people write, and the names in the language files.
var knobAliases = map[string]string{
	"lefthand": "left-hand", "righthand": "right-hand",
	"top-left": "upper-left", "top-right": "upper-right",
	"bottom-left": "lower-left", "bottom-right": "lower-right",
	"one": "1", "two": "2", "three": "3", "four": "4",
}

// name says which knob (kind "knob") or whose lock (kind "lock-name") is meant.
// Names that the language knows are translated, a letter or number gets the
// word "knob", and any other name is spoken as it was written.
func (p *Phrases) name(kind, config string) (string, error) {
	name := strings.TrimSpace(config)
	joint := func(r rune) bool { return r == ' ' || r == '-' || r == '_' }
	key := strings.ToLower(strings.Join(strings.FieldsFunc(name, joint), "-"))
	key = cmp.Or(knobAliases[key], key)
	if utf8.RuneCountInString(key) <= 2 {
		return p.message(kind+".letter", map[string]any{"Name": strings.ToUpper(key)}, nil)
	}
	text, err := p.message(kind+"."+key, nil, nil)
	var missing *i18n.MessageNotFoundErr
	if errors.As(err, &missing) || key == "custom" || key == "letter" { // patterns in the language files, not names
		return p.message(kind+".custom", map[string]any{"Name": name}, nil)
	}
	return text, err
}

// Knob is the name of a knob as it is spoken.
func (p *Phrases) Knob(name string) (string, error) { return p.name("knob", name) }

// Told is what tells a knob's name from the others': the name without the word "knob".
func (p *Phrases) Told(name string) (string, error) {
	text, err := p.Knob(name)
	if err != nil {
		return "", err
	}
	knob, err := p.message("knob.letter", map[string]any{"Name": ""}, nil)
	return strings.Join(strings.Fields(strings.Replace(text, strings.TrimSpace(knob), "", 1)), " "), err
}

// An amount is a word for a part of a turn, used up to the given turns: the geometric
// mean of this amount and the next, because the error of a hand is a share of the turn
// (a third or so), not a fixed angle.
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

// Fraction says how large a wavefront error is, waves RMS, in words: "one twentieth of a
// wave". It is rounded up to the next fraction with a name, so that the words never make
// the mirror better than it is.
func (p *Phrases) Fraction(waves float64) (string, error) {
	for _, d := range denominators {
		if waves <= 1/float64(d) {
			return p.message(fmt.Sprintf("fraction.d%d", d), nil, nil)
		}
	}
	return p.message("fraction.d1", nil, nil)
}

// result says how good the mirror is now, "" without the arguments for it: waves is the
// coma's RMS, ratio the error in tolerances.
func (p *Phrases) result(args map[string]any) (string, error) {
	waves, ok1 := number(args["waves"])
	ratio, ok2 := number(args["ratio"])
	if !ok1 || !ok2 || !(waves >= 0) || !(ratio >= 0) {
		return "", nil
	}
	reached, err := p.Fraction(waves)
	if err != nil {
		return "", err
	}
	data := map[string]any{"Fraction": reached}
	key := "result.better"
	switch {
	case ratio > 1:
		key = "result.short"
		if data["Goal"], err = p.Fraction(waves / ratio); err != nil {
			return "", err
		}
		if data["Goal"] == reached { // the words are the same
			key = "result.close"
		}
	case ratio > 0.8:
		key = "result.within"
	}
	text, err := p.message(key, data, nil)
	return words.Capital(text), err
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

// compass says a direction, args["azimuth"] in degrees from north through east, as the
// nearest of eight points of the compass.
func (p *Phrases) compass(args map[string]any) (string, error) {
	azimuth, ok := number(args["azimuth"])
	if !ok {
		return "", errors.New("a star without an azimuth")
	}
	winds := [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	i := int(math.Round(azimuth/45)) % len(winds)
	return p.message("compass."+winds[(i+len(winds))%len(winds)], nil, nil)
}

// fists says an altitude, args["altitude"] in degrees, in fists at arm's length of
// ten degrees (common practice, no source).
func (p *Phrases) fists(args map[string]any) (string, error) {
	altitude, ok := number(args["altitude"])
	if !ok {
		return "", errors.New("a star without an altitude")
	}
	n := max(1, int(math.Round(altitude/10)))
	return p.message("fists", map[string]any{"N": n}, n)
}
