package prompts

// A Cue is one thing to say, as the coach or the guide asks for it. The fields
// mean what they mean in the coach's cue.
type Cue struct {
	ID        int            // the sender's number, handed back when it is said or dropped
	Code      string         // an entry of the catalogue
	Action    string         // the action of the outside contract; "" takes the entry's
	Knob      string         // the config's name to the letter, or ""
	Direction string         // tighten, loosen, more, less, release, snug or ""
	Turns     float64        // for a turn: > 0
	Result    string         // for done: aligned, as-good-as-the-air-allows, given-up
	Args      map[string]any // numbers and names for the words; see Entry.Args
	Full      bool           // in all its words, unless the person has asked for few
}

// variant is the part of the message key that depends on the cue itself.
func (c Cue) variant() string {
	if c.Result != "" {
		return c.Result
	}
	return c.Direction
}

// action is the cue's own action, or the usual one of its code.
func (c Cue) action(e *Entry) string {
	if c.Action != "" {
		return c.Action
	}
	return e.Action
}
