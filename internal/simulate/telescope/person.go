package telescope

import (
	"fmt"
	"strings"
)

// Skill is how well the hands do what they are told. Times are seconds.
type Skill struct {
	ReactMin, ReactMax float64 // from the end of the words to the move; < 0 is before it
	WalkMin, WalkMax   float64 // more of it when the focuser was used last and now a knob, or the other way round
	StopMin, StopMax   float64 // from the end of a stop or wait to the hands' rest
	Feel               float64 // for which the hand lies on the knob before it turns

	Amount    float64 // a turn comes out right within this fraction
	Over      float64 // and is larger by this fraction on average
	Coarse    float64 // the least turn that comes out, turns
	Step      float64 // the most that is turned in one movement, turns; 0 is no limit
	Tremor    float64 // times the usual shake while a hand is on a knob; 0 is 1
	WrongKnob float64 // chance of taking another knob
	WrongWay  float64 // chance of turning it the other way
	Recentre  float64 // error of a push, as a fraction of the way, RMS

	LetGo            float64 // chance of letting go in the midst of a turn, and beginning again
	RestMin, RestMax float64 // how long the hand rests between two movements of one turn
	Misses           float64 // chance of not hearing a cue
	Late             bool    // does what was heard, though something else has been said since
}

// Person is somebody whose hands obey.
type Person struct {
	Name  string
	About string // one line, for a list
	Skill Skill
	Knows bool // has heard every kind of cue before
}

// Clumsy is a practised person in the dark with cold hands. A choice that is
// prepared for takes 0.2 to 0.5 s (Hick 1952; from memory), and the fingers must
// close; all the rest is a guess.
var Clumsy = Skill{
	ReactMin: 0.4, ReactMax: 1.2, StopMin: 0.4, StopMax: 0.6,
	Amount: 0.35, WrongKnob: 0.04, WrongWay: 0.03, Recentre: 0.12,
}

// Deft is a person who makes no mistakes, for tests of everything else.
var Deft = Skill{ReactMin: 0.5, ReactMax: 0.5, StopMin: 0.5, StopMax: 0.5}

// Persons are the kinds of people with whom the guidance is tested. No measurement of
// people at a telescope is known: where no source is named a number is a guess, on the side
// that makes guidance harder.
var Persons = []Person{
	{"practised", "knows the cues, and begins within a second of the words", Clumsy, true},
	// A person who has heard the knob's name need not wait for the amount, which is the
	// last second of the words (a guess).
	{"eager", "begins before the words are out", Skill{
		ReactMin: -1.2, ReactMax: 0.3, StopMin: 0.3, StopMax: 0.6,
		Amount: 0.4, WrongKnob: 0.05, WrongWay: 0.03, Recentre: 0.12,
	}, false},
	// A walk round a tube of 1 to 2 m at 0.5 m/s in the dark takes 4 to 8 s. Guess.
	{"first-timer", "begins late, errs often, stops to think", Skill{
		ReactMin: 3, ReactMax: 12, WalkMin: 4, WalkMax: 8, StopMin: 0.5, StopMax: 1.2, Feel: 0.5,
		Amount: 0.5, WrongKnob: 0.1, WrongWay: 0.05, Recentre: 0.2, LetGo: 0.3, RestMin: 1, RestMax: 4,
	}, false},
	{"careful", "turns a tenth of a turn at a time", Skill{
		ReactMin: 1.5, ReactMax: 4, WalkMin: 3, WalkMax: 6, StopMin: 0.4, StopMax: 0.8, Feel: 0.3,
		Amount: 0.15, Step: 0.1, WrongKnob: 0.01, WrongWay: 0.01, Recentre: 0.08, RestMin: 0.8, RestMax: 2,
	}, false},
	// Essential tremor is 4 to 12 Hz (from memory); how much of it a knob passes on
	// to the tube is a guess.
	{"tremor", "shakes what is touched", Skill{
		ReactMin: 1, ReactMax: 4, WalkMin: 4, WalkMax: 8, StopMin: 0.5, StopMax: 0.9, Feel: 0.6,
		Amount: 0.4, Tremor: 3, WrongKnob: 0.04, WrongWay: 0.03, Recentre: 0.2, LetGo: 0.2, RestMin: 0.5, RestMax: 1.5,
	}, false},
	{"gloves", "coarse, and turns too far", Skill{
		ReactMin: 2, ReactMax: 6, WalkMin: 4, WalkMax: 8, StopMin: 0.5, StopMax: 0.9, Feel: 0.8,
		Amount: 0.35, Over: 0.25, Coarse: 0.04, WrongKnob: 0.06, WrongWay: 0.03, Recentre: 0.2,
	}, false},
	{"two-people", "one at the focuser, one at the knobs", Skill{
		ReactMin: 0.8, ReactMax: 2.5, StopMin: 0.4, StopMax: 0.9,
		Amount: 0.35, WrongKnob: 0.05, WrongWay: 0.03, Recentre: 0.15,
	}, false},
	{"obeys-late", "does what was said before, though something else was said since", Skill{
		ReactMin: 5, ReactMax: 10, WalkMin: 2, WalkMax: 4, StopMin: 0.5, StopMax: 1,
		Amount: 0.35, WrongKnob: 0.04, WrongWay: 0.03, Recentre: 0.15, Late: true,
	}, false},
	{"misses", "does not hear one cue in ten", Skill{
		ReactMin: 0.8, ReactMax: 3, WalkMin: 3, WalkMax: 6, StopMin: 0.4, StopMax: 0.8,
		Amount: 0.35, WrongKnob: 0.04, WrongWay: 0.03, Recentre: 0.15, Misses: 0.1,
	}, false},
}

// PersonNamed returns the person of that name.
func PersonNamed(name string) (Person, error) {
	var names []string
	for _, p := range Persons {
		if p.Name == name {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return Person{}, fmt.Errorf("person %q: choose one of %s", name, strings.Join(names, ", "))
}
