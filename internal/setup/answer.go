package setup

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A control is an answer that steers the conversation.
type control int

const (
	none control = iota
	skip
	back
	repeat
	help
	quit
	unknown // the person does not know
)

// controls are the answers that steer, by their names in the words.
var controls = map[string]control{"skip": skip, "back": back, "repeat": repeat, "help": help, "quit": quit, "unknown": unknown}

// steer is what an answer steers, none for one that is meant as it is.
func (w *tongue) steer(line string) control {
	switch plain(line) {
	case "":
		return repeat
	case "?":
		return help
	}
	return controls[w.which(line, "skip", "back", "repeat", "help", "quit", "unknown")]
}

// tidy makes answers alike however they were typed.
func tidy(line string) string { return strings.Join(strings.Fields(line), " ") }

// plain is tidy, in small letters and without the stop at its end.
func plain(line string) string {
	t := strings.ToLower(strings.ReplaceAll(tidy(line), "’", "'"))
	if short := strings.TrimRight(t, ".!"); short != "" {
		return short
	}
	return t
}

// longestLine bounds an answer, bytes; a GStreamer pipeline is the longest there is.
const longestLine = 1000

// readable reports whether a line can be an answer at all.
func readable(line string) bool {
	return len(line) <= longestLine && utf8.ValidString(line) && !strings.ContainsFunc(tidy(line), func(r rune) bool {
		return !unicode.IsPrint(r)
	})
}

func (w *tongue) yesNo(line string) (bool, error) {
	switch w.which(line, "yes", "no") {
	case "yes":
		return true, nil
	case "no":
		return false, nil
	}
	return false, slipOf("not-yes")
}

var counts = strings.Fields("zero one two three four five six seven eight nine ten eleven twelve")

var thousands = regexp.MustCompile(`^\d+,\d{3}$`)

// number reads a number above or at 0: 8, 8.5, 8,5, 4 1/2, eight.
func number(text string) (float64, error) {
	t := plain(text)
	for n, word := range counts {
		if t == word {
			return float64(n), nil
		}
	}
	if thousands.MatchString(t) {
		return 0, slipOf("two-ways", t)
	}
	whole, part, mixed := strings.Cut(t, " ")
	x, err := decimal(whole)
	if over, under, ok := strings.Cut(whole, "/"); ok && !mixed {
		x, err = fraction(over, under)
	}
	if err == nil && mixed {
		var more float64
		over, under, _ := strings.Cut(part, "/")
		more, err = fraction(over, under)
		x += more
	}
	if err != nil {
		return 0, slipOf("no-number", text)
	}
	return x, nil
}

var digits = regexp.MustCompile(`^\d{1,9}([.,]\d{1,9})?$`)

func decimal(t string) (float64, error) {
	if !digits.MatchString(t) {
		return 0, strconv.ErrSyntax
	}
	return strconv.ParseFloat(strings.ReplaceAll(t, ",", "."), 64)
}

func fraction(over, under string) (float64, error) {
	a, err := decimal(over)
	if err != nil {
		return 0, err
	}
	b, err := decimal(under)
	if err != nil || b == 0 {
		return 0, strconv.ErrSyntax
	}
	return a / b, nil
}

// units in mm, the longer endings first.
var units = []struct {
	ending string
	mm     float64
}{
	{"millimetres", 1}, {"millimeters", 1}, {"millimetre", 1}, {"millimeter", 1}, {"centimetres", 10}, {"centimeters", 10},
	{"metres", 1000}, {"meters", 1000}, {"inches", inch}, {"inch", inch}, {"zoll", inch}, {"pouces", inch}, {"pulgadas", inch}, {"pollici", inch}, {"polegadas", inch}, {"cale", inch}, {"cali", inch}, {"tum", inch}, {"in", inch}, {`"`, inch}, {"″", inch}, {"”", inch}, {"''", inch},
	{"mm", 1}, {"cm", 10}, {"m", 1000},
}

// millimetres reads a length: 200, 200 mm, 20 cm, 1.2 m, 8 inches, 4 1/2 in.
func millimetres(text string) (float64, error) {
	t, scale := plain(text), 1.0
	for _, u := range units {
		if rest, ok := strings.CutSuffix(t, u.ending); ok {
			t, scale = strings.TrimRight(rest, " -"), u.mm
			break
		}
	}
	x, err := number(t)
	if err != nil {
		return 0, err
	}
	if scale == inch && x*scale >= 30 { // labels are rounded too: 8 inch is sold as 203 mm
		return math.Round(x * scale), nil
	}
	return x * scale, nil
}

var clockWords = map[string]float64{"top": 12, "right": 3, "bottom": 6, "left": 9}

var clockTime = regexp.MustCompile(`^(\d{1,2})[:.h](\d{2})$`)

// clock reads a place on a clock face, over 0 to 12: 8, 8:30, half past 8, top.
func (w *tongue) clock(text string) (float64, error) {
	t := plain(text)
	for _, tail := range []string{"o'clock", "oclock", "o clock", "uhr", "heures", "h", "uur"} {
		t = strings.TrimSpace(strings.TrimSuffix(t, tail))
	}
	t = strings.TrimPrefix(t, "at ")
	if hour, ok := clockWords[w.which(t, "top", "right", "bottom", "left")]; ok {
		return hour, nil
	}
	past, isPast := strings.CutPrefix(t, "half past ")
	hours, err := number(past)
	if isPast {
		hours += 0.5
	}
	if m := clockTime.FindStringSubmatch(t); m != nil && !strings.Contains(t, ".") {
		h, _ := strconv.Atoi(m[1]) // digits, by the pattern
		minutes, _ := strconv.Atoi(m[2])
		hours, err = float64(h)+float64(minutes)/60, nil
		if minutes > 59 {
			hours = math.NaN()
		}
	}
	if err != nil || !(hours >= 0 && hours < 13) {
		return 0, slipOf("no-clock", text)
	}
	if hours == 0 {
		return 12, nil
	}
	if hours > 12 {
		hours -= 12
	}
	return math.Round(hours*100) / 100, nil
}
