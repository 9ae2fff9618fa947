package byear

import (
	"fmt"
	"regexp"
	"strings"

	"halocue/internal/cue"
)

// amounts are what the words for a part of a turn mean to a hand.
var amounts = map[string]float64{
	"a touch": 1.0 / 45, "slightly": 1.0 / 16, "an eighth of a turn": 1.0 / 8, "a quarter turn": 1.0 / 4,
	"a third of a turn": 1.0 / 3, "half a turn": 1.0 / 2, "three quarters of a turn": 3.0 / 4,
	"one turn": 1, "one and a quarter turns": 1.25, "one and a half turns": 1.5, "two turns": 2,
}

// sentences are the language of the cues as somebody knows it who is at a mirror
// with these knobs. Two sentences of a cue may be heard as one or as two.
func sentences(knobs []cue.Knob) []string {
	var names, parts []string
	for _, k := range knobs {
		names = append(names, plain(k.Name))
	}
	for a := range amounts {
		parts = append(parts, a)
	}
	knob := "(" + strings.Join(names, "|") + ")"
	turn := fmt.Sprintf("%s knob (tighten|loosen) (%s) [clockwise|anticlockwise]", knob, strings.Join(parts, "|"))
	language := []string{
		"[too far|nothing moved [once more and a little further]|put it back|that made it worse] " + turn,
		"[the ring is] burnt out focuser further out of focus [or shorten the exposure]", "focuser further out of focus (until the ring is twice as large|i cannot see the shadow yet)",
		"stop [that is the " + knob + " knob|wrong way|wrong knob|that screw has gone far enough]",
		"(measuring|the telescope was knocked|the ring is blurred) hands off", "wait one knob at a time", "cloud wait",
		"push the tube star (to|a little past) the middle", "push [the tube] the (same|other) way [again|half as far]", "star lost turn that knob back",
		"push the tube gently until the star is (in the middle|a little past the middle it drifts back) the tone rises",
		"[star lost|the star is lost] push the tube back the way it came [or use the finder]", "the star is back",
		"focuser a little (further out of|nearer to) focus", "focuser (turn through to the other side|out of focus until i find the ring)",
		"turn the focuser (through focus to the other side until i say stop|(further out of|nearer to) focus until the ring is a quarter (larger|smaller))",
		knob + " lock (release [it by half a turn and no more]|snug it gently [until it just holds])",
		"the " + knob + " lock pulls the mirror [ease it and snug it more gently]",
		"centered", "the two sides of focus do not agree yet we go on", "say or press go on when you are ready",
		"done (the mirror is true|it is as true as the air allows tonight) [(one|a) " + fraction + " of a wave [(better than|as good as) the mirror needs]]",
		"i stop here the mirror is not proved true",
	}
	before := "[stop [wrong way|wrong knob|that is the " + knob + " knob]|centered|measuring hands off|the " + knob + " lock pulls the mirror] "
	for i, s := range language { // some sentences and what follows them come in one breath
		if !strings.HasPrefix(s, "stop") {
			language[i] = before + s
		}
	}
	return language
}

// fraction are the parts of a wave that a mirror is left with.
const fraction = "(tenth|thirteenth|fifteenth|twentieth|twenty fifth|thirtieth|fortieth|fiftieth|hundredth)"

// pronounced are the words that the US English dictionary lacks.
var pronounced = map[string][]string{"focuser": {"F OW K AH S ER"}, "anticlockwise": {"AE N T IY K L AA K W AY Z"}}

// plain is a text as a listener writes it down.
func plain(text string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return r < 'a' || r > 'z' }), " ")
}

// told are sentences without anything to do, before others in the same breath.
var told = regexp.MustCompile(`^(centered|wrong way|wrong knob|that is the [a-z ]+? knob|the [a-z ]+? lock pulls the mirror) `)

// understand is what hands make of what was heard, in its order.
func understand(text string, from, to float64) (all []cue.Instruction) {
	for words, action := range map[string]cue.Action{"stop ": cue.Stop, "measuring hands off ": cue.Wait} {
		if rest, ok := strings.CutPrefix(text, words); ok {
			all = append(all, cue.Instruction{Action: action, Begin: from, End: to})
			text = rest
		}
	}
	text = told.ReplaceAllString(text, "")
	if in, ok := sentence(text, from, to); ok {
		all = append(all, in)
	}
	return all
}

// sentence is what one sentence asks for: ok is false where there is nothing to do.
func sentence(text string, from, to float64) (in cue.Instruction, ok bool) {
	in = cue.Instruction{Begin: from, End: to}
	has := func(words string) bool { return strings.Contains(" "+text+" ", " "+words+" ") }
	for _, preface := range []string{"too far ", "nothing moved ", "put it back ", "that made it worse ", "once more and a little further "} {
		text = strings.TrimPrefix(text, preface)
	}
	switch {
	case has("knob tighten") || has("knob loosen"):
		name, rest, _ := strings.Cut(text, " knob ")
		direction, amount, _ := strings.Cut(rest, " ")
		amount = strings.TrimSuffix(strings.TrimSuffix(amount, " anticlockwise"), " clockwise")
		in.Action, in.Knob, in.Direction, in.Turns = "turn", name, direction, amounts[amount]
	case has("turn that knob back"):
		in.Action, in.Back = "turn", true
	case has("lock release") || has("lock snug"):
		name, rest, _ := strings.Cut(text, " lock ")
		in.Action, in.Knob, in.Direction = "lock", name, strings.Fields(rest)[0]
	case has("stop") && !has("i stop here") && !has("i say stop"):
		in.Action = "stop"
	case has("wait") || has("hands off"):
		in.Action = "wait"
	case has("push"):
		in.Action = "recentre"
	case has("focuser turn through"), has("focuser through focus"):
		in.Action = "other-side"
	case has("focuser") && has("nearer to"):
		in.Action, in.Direction = "defocus", "less"
	case has("focuser"):
		in.Action, in.Direction = "defocus", "more"
	default:
		return in, false
	}
	return in, true
}
