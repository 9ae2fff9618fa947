package setup

import (
	"slices"
	"strconv"
	"strings"
)

// Sentences are the answers that can be spoken, in the English of set-up, as patterns:
// (a|b) is one of several, [x] may be left out. Names of one's own are typed.
func Sentences() []string {
	const (
		unit = "(one|two|three|four|five|six|seven|eight|nine)"
		teen = "(ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen|eighteen|nineteen)"
		tens = "(twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)"
		low  = "(zero|" + unit + "|" + teen + "|" + tens + " [" + unit + "])"
		tail = " [[and] " + low + "]"
		size = "(" + low + "|" + unit + " hundred" + tail + "|" + teen + " hundred" + tail + "|" + low + " thousand [" + unit + " hundred]" + tail + ")"
		one  = "(zero|" + unit + ")"
		some = size + " [point " + one + " [" + one + " [" + one + "]]] "
	)
	return []string{
		"yes|no|skip|back|repeat|quit|help|not known|i don't know",
		some + "[and a half] [millimeters|centimeters|meters|inches|inch|microns|micrometers|milliseconds|o'clock|words a minute]",
		"f " + some, "m (three|four|five|six|eight)", "quarter twenty",
		"half past " + size, "top|bottom|left|right",
		"left hand|right hand|upper|upper left|upper right|lower left|lower right|one bump|two bumps|three bumps|red|green|blue|yellow|white|black",
		"knobs on springs|pairs of screws|screws alone", "slow|normal|fast", "learned|steady|quick",
		"english|german|french|spanish|italian|portuguese|dutch|polish|swedish",
		some + "(north|south) " + some + "(east|west)",
	}
}

// written are the words that a line of text has otherwise.
var written = map[string]string{
	"millimeters": "mm", "centimeters": "cm", "meters": "m", "microns": "um", "micrometers": "um", "milliseconds": "ms",
	"left hand": "left-hand", "right hand": "right-hand", "upper left": "upper-left", "upper right": "upper-right",
	"lower left": "lower-left", "lower right": "lower-right", "quarter twenty": "1/4-20", "i don't know": "not known",
}

// Written turns what was spoken into the line that would have been typed: "two hundred
// and three millimeters" is "203 mm", "m six" is "m6", "one bump" stays.
func Written(spoken string) string {
	if line, ok := written[spoken]; ok {
		return line
	}
	words := strings.Fields(spoken)
	var line []string
	for len(words) > 0 {
		value, used := spokenNumber(words)
		switch next := words[min(used, len(words)-1)]; {
		case used > 0 && used < len(words) && strings.HasPrefix(next, "bump"):
			line, used = append(line, words[0]), 1
		case used > 0 && len(line) == 1 && (line[0] == "f" || line[0] == "m"):
			line[0] += value
		case used > 0:
			line = append(line, value)
		default:
			word := words[0]
			if short, ok := written[word]; ok {
				word = short
			}
			line, used = append(line, word), 1
		}
		words = words[used:]
	}
	return strings.TrimSuffix(strings.Join(line, " "), " words a minute")
}

// counted are the number words that add up.
var counted = func() map[string]int {
	n := map[string]int{}
	for i, w := range strings.Fields("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen") {
		n[w] = i
	}
	for i, w := range strings.Fields("twenty thirty forty fifty sixty seventy eighty ninety") {
		n[w] = 20 + 10*i
	}
	return n
}()

// spokenNumber reads the number that the words begin with, and how many of them it
// takes; 0 for none.
func spokenNumber(words []string) (text string, used int) {
	whole, part := 0, 0
read:
	for ; used < len(words); used++ {
		n, counts := counted[words[used]]
		switch w := words[used]; {
		case counts:
			part += n
		case used > 0 && w == "hundred":
			part *= 100
		case used > 0 && w == "thousand":
			whole, part = 1000*part, 0
		case used > 0 && w == "and" && used+1 < len(words) && isCounted(words[used+1]): // two hundred and three
		default:
			break read
		}
	}
	if used == 0 {
		return "", 0
	}
	text = strconv.Itoa(whole + part)
	if rest := words[used:]; len(rest) > 1 && rest[0] == "point" {
		text += "."
		for used++; used < len(words) && isCounted(words[used]) && counted[words[used]] < 10; used++ {
			text += strconv.Itoa(counted[words[used]])
		}
	} else if len(rest) > 2 && slices.Equal(rest[:3], []string{"and", "a", "half"}) {
		text, used = text+".5", used+3
	}
	return text, used
}

func isCounted(word string) bool { _, ok := counted[word]; return ok }
