// Package night is the coach by night. It decides what to do next: from what the star
// shows, where the mirror's axis points, what the hands are doing, and which cue brings
// the axis to the target in the fewest words.
//
// Each sight goes the same way. sight.go turns it into mm and gives it to the estimate.
// The files hand*.go follow what the person does, from the star's motion: hand.go what is
// asked of the hand, when that begins and how far it is, hand_feel.go whose doing the star's
// motion is, hand_turn.go, hand_push.go, hand_rack.go and hand_lock.go the four things that
// a hand does, hand_pace.go how long it takes. The files say*.go choose what is said:
// say_stop.go what cannot wait, say_late.go to a hand that is late, say_next.go what comes
// next, the others one kind of cue each.
//
// It is pure: time comes with each sight, nothing is read, written or spoken.
package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/estimate"
	"halocue/internal/hands"
	"halocue/internal/observe"
)

// Coach is one night's guidance. It is not safe for concurrent use.
type Coach struct {
	s     Settings
	o     estimate.Instrument
	bank  *estimate.Bank
	track *hands.Track
	knobs *estimate.KnobModel
	voice cue.Voice

	view     // the newest sight
	person   // what was asked of the hands, and how they answer
	turns    // what the knobs have done
	passages // what the focuser has done
	sky      // what hides the star

	stage   string
	proven  *r2.Vec // the axis point when a claim last stood
	proveT  float64 // when the mirror last moved
	noted   notes
	seen    seenFacts
	pause   coach.Pause
	driven  bool // a motor does what the hand was asked to do
	done    bool
	aligned bool // and the mirror was proved true
}

// view is the newest sight, mm relative to the target.
type view struct {
	t, dt, first  float64 // dt since the sight before
	started       bool
	visible       bool // a ring was measured
	why           string
	lastFound     float64
	star          r2.Vec
	radius        float64
	radii         []hands.Point // recent radii in At.X
	ringWas       float64       // the ring's steady radius; 0 unknown
	odd           float64       // seconds for which it has had another size
	frame         r2.Vec        // the frame's centre relative to the target
	middle        r2.Vec        // the same in frame pixels
	width, height int
}

// person is what was asked of the hands, and how they answer.
type person struct {
	hand     hand
	past     hand            // the turn before it
	pastT    float64         // when that was replaced
	pending  pending         // what will be in force next
	owed     *hand           // what had to give way to a push, or nil
	gaveWay  int             // how often that has happened
	pushes   int             // asked for in a row
	lastPush r2.Vec          // how the last push moved the star, mm
	arriving bool            // a push is as good as done, and that was not said yet
	remind   bool            // a quiet sound is due
	heard    map[string]bool // the kinds of cues that were given in full

	reactions hands.Reactions
	reaction  float64 // from the words to the move, seconds, as learned
	unhurried float64 // times the usual patience, as the person asked for it
	atFocuser bool    // where the hand was last, as far as that was asked for
}

// turns is what the knobs have done.
type turns struct {
	knew     estimate.KnobModel // what was known of the knobs before the turn in hand was learned
	aim      float64            // how far the star should go in the turn last asked for
	shifted  r2.Vec             // way of the axis point since the sides were last seen
	screws   screws             // made since the start, as far as the star tells
	locks    locks
	lastTurn struct {
		knob int
		sign float64 // +1 tightened
		did  float64 // how far the star went, mm, > 0 tightened
	}
	gone     [3]float64 // how far each knob has taken the star, mm, > 0 tightened
	goBackTo [3]float64 // how far it should have, while turns are taken back
	undoing  bool       // the turns are being taken back
}

// passages is what the focuser has done.
type passages struct {
	sideT       float64 // when this side was reached
	wentThrough bool    // the focuser went through focus tonight, to a ring as large: both sides can be reached
	tries       int     // rackings to the other side asked for since one succeeded
	doubts      int     // times that was asked for which tells the sides apart, since the mirror last moved
}

// sky is what hides the star.
type sky struct {
	trouble    float64 // when trouble was last spoken of
	noShadow   int     // how often more defocus was asked for, in a row, because no shadow was seen
	warned     int     // how often, in a row, it was said why no ring can be measured
	sunny      int     // frames in a row flooded with light
	sunT       float64 // when the Sun was last warned of
	clouds     cloudDetector
	clouded    bool // a cloud was said, and that it is over was not
	nearMiddle bool // the light that was seen last, without a ring, was near the middle of the frame
}

// New returns a coach for one night, or what is wrong with the settings.
func New(s Settings) (*Coach, error) {
	s, err := s.filled()
	if err != nil {
		return nil, err
	}
	o := s.optic()
	var clocks [3]float64
	for k, knob := range s.Knobs {
		clocks[k] = knob.Clock
	}
	c := &Coach{
		s: s, o: o, bank: estimate.NewBank(o), track: hands.NewTrack(o.Telescope.FocalLength),
		knobs: estimate.NewKnobModel(clocks, o.StarPerTurn), voice: cue.NewVoice(longest), stage: "find",
		person: person{reaction: hands.Reaction, reactions: hands.Reactions{}, unhurried: 1, atFocuser: true, heard: map[string]bool{}},
		turns:  turns{screws: screws{kind: s.Kind}},
		sky:    sky{trouble: math.Inf(-1)}, noted: notes{once: map[string]bool{}},
	}
	if s.Memory != nil {
		c.recall(*s.Memory)
	}
	return c, nil
}

// See takes in one frame's sight, also one in which nothing was found.
func (c *Coach) See(s observe.Sight) cue.Advice {
	if math.IsNaN(s.T) || c.started && s.T < c.t {
		s.T = c.t
	}
	if !c.started {
		c.started, c.first, c.lastFound, c.trouble = true, s.T, s.T, s.T-3
	}
	c.dt, c.t = math.Min(s.T-c.t, 0.5), s.T
	c.voice.Expire(c.t)
	c.look(s)
	c.settlePending()
	return c.advise(c.decide())
}

// decide returns what is to be said after a sight.
func (c *Coach) decide() []cue.Cue {
	if c.done {
		return nil
	}
	if cues, danger := c.sun(); danger {
		return cues
	}
	if c.follow() {
		if cues := c.interrupt(); len(cues) > 0 {
			return cues
		}
	}
	if c.voice.Busy() || c.pause.On || c.driven {
		return nil
	}
	return c.accept(c.next())
}

// longest is how long words may take, seconds.
const longest = 15

// advise numbers the cues and puts the estimate beside them.
func (c *Coach) advise(cues []cue.Cue) cue.Advice {
	for i := range cues {
		c.word(&cues[i])
		c.voice.Emit(&cues[i], c.t)
		if cues[i].Action == cue.Done {
			c.done, c.aligned, c.stage = true, cues[i].Result == cue.Aligned, "done"
		}
	}
	remind := c.remind
	c.remind = false
	return cue.Advice{Remind: remind, Cues: cues, Tone: c.tone(), Estimate: c.told(), Stage: c.stage}
}

// told is the estimate for the transcript.
func (c *Coach) told() cue.Estimate {
	if c.bank.Frames() < 3 {
		return cue.Estimate{Star: c.star}
	}
	a, sd := c.bank.Axis()
	b := cue.Estimate{
		Axis: a, AxisSigma: sd, Star: c.star, Known: true,
		Ratio: r2.Norm(a) / c.o.Tolerance, Bound: c.bank.UpperBound(c.star) / c.o.Tolerance,
		R0: c.bank.Fried(),
	}
	p := c.bank.OutsideChance()
	b.Side, b.SideChance = "outside", p
	if p < 0.5 {
		b.Side, b.SideChance = "inside", 1-p
	}
	if b.SideChance < 0.9 {
		b.Side = ""
	}
	return b
}

// Began says that the words of a cue have begun at time t, seconds.
func (c *Coach) Began(id int, t float64) {
	say, ok := c.voice.Began(id, t)
	if !ok {
		return
	}
	if say.Full {
		c.heard[kind(say)] = true
	}
	switch say.Action {
	case cue.Turn, cue.Recentre, cue.Defocus, cue.OtherSide, cue.Lock:
		c.take(say, t)
	}
}

// Ended says that the words of a cue are out at time t, or were cut off.
func (c *Coach) Ended(id int, t float64) {
	c.voice.Ended(id)
	c.wordsOut(id, t)
}

// Dropped says that a cue will never be spoken.
func (c *Coach) Dropped(id int) { c.voice.Ended(id) }

// Hush says whether something else is being said that the person must hear first: as long
// as it is, nothing is asked for that can wait.
func (c *Coach) Hush(on bool) { c.voice.Others = on }

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
