package night

import "halocue/internal/cue"

// kind is what a person has to hear once in full: a cue and its direction.
func kind(say cue.Cue) string {
	if say.Direction == "" {
		return say.Code
	}
	return say.Code + "." + say.Direction
}

// word says in full what the person hears for the first time; what is said again keeps
// its words.
func (c *Coach) word(say *cue.Cue) {
	switch say.Action {
	case cue.Turn, cue.Recentre, cue.Defocus, cue.OtherSide, cue.Lock:
	default:
		return
	}
	if h := &c.hand.cue; say.Again && h.Code == say.Code && h.Direction == say.Direction {
		say.Full = h.Full
	} else if !say.Again {
		say.Full = !c.heard[kind(*say)]
	}
}
