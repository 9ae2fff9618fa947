// Package night is the coach by night. It decides what to do next: from what the star
// shows, where the mirror's axis points, what the hands are doing, and which cue brings
// the axis to the target in the fewest words.
//
// It is pure: time comes with each sight, nothing is read, written or spoken.
package night

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

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
	held    bool
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
	odd           float64       // seconds for which it has been another
	frame         r2.Vec        // the frame's centre relative to the target
	width, height int
}

// person is what was asked of the hands, and how they answer.
type person struct {
	hand     hand
	past     hand            // the turn before it
	pastT    float64         // when that was replaced
	pending  pending         // what will be in force next
	owed     *cue.Cue        // what had to give way to a push, or nil
	gaveWay  int             // how often it has
	pushes   int             // asked for in a row
	lastPush r2.Vec          // how the last push moved the star, mm
	arriving bool            // a push is as good as done, and that was not said yet
	repeats  int             // how often the last turn was asked for again, in vain
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
	trouble  float64 // when trouble was last spoken of
	noShadow int     // how often more defocus was asked for, in a row, because no shadow was seen
	warned   int     // how often, in a row, it was said why no ring can be measured
	sunny    int     // frames in a row flooded with light
	sunT     float64 // when the Sun was last warned of
	clouds   cloudDetector
	clouded  bool // a cloud was said, and that it is over was not
	midst    bool // what was seen last, and was no ring, lay in the middle of the frame
}

// New returns a coach for one night, or what is wrong with the settings.
func New(s Settings) (*Coach, error) {
	s, err := s.filled()
	if err != nil {
		return nil, err
	}
	o := s.optic()
	c := &Coach{
		s: s, o: o, bank: estimate.NewBank(o), track: hands.NewTrack(o.Telescope.FocalLength),
		knobs: estimate.NewKnobModel(s.clocks(), o.StarPerTurn), voice: cue.NewVoice(longest), stage: "find",
		person: person{reaction: s.ReactionS, atFocuser: true, heard: map[string]bool{}},
		turns:  turns{screws: screws{kind: s.Kind}},
		sky:    sky{trouble: math.Inf(-1)},
	}
	c.reactions, c.unhurried = pace(s.Memory)
	if m := s.Memory; m != nil {
		for _, k := range m.Heard {
			c.heard[k] = true
		}
		if m.PerTurn != [3]float64{} { // else it tells of the person only
			c.knobs.Recall(m.Mirrored, m.Rotation, m.RotationSD, m.PerTurn, m.PerTurnSD)
		}
		c.recallSecondary(m)
		c.bank.Holds = m.Holds
		if m.Reaction > 0 {
			c.reaction = m.Reaction
		}
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
	if cues := c.follow(); len(cues) > 0 {
		return cues
	}
	if c.voice.Busy() || c.held || c.driven {
		return nil
	}
	return c.accept(c.next())
}

// longest is how long words may take, seconds.
const longest = 15

// replaces tells the actions that replace what the hand was doing.
func replaces(a cue.Action) bool {
	return a == cue.Stop || a == cue.Wait || a == cue.Turn || a == cue.Recentre
}

// advise numbers the cues and puts the estimate beside them.
func (c *Coach) advise(cues []cue.Cue) cue.Advice {
	for i := range cues {
		c.word(&cues[i])
		c.voice.Emit(&cues[i], c.t, replaces(cues[i].Action))
		if cues[i].Action == cue.Done {
			c.done, c.aligned, c.stage = true, cues[i].Result == cue.Aligned, "done"
		}
	}
	remind := c.remind
	c.remind = false
	return cue.Advice{Remind: remind, Cues: cues, Tone: c.tone(), Estimate: c.told(), Stage: c.stage, Done: c.done}
}

// usable reports whether a measurement is made of numbers that can be used.
func usable(s observe.Sight) bool {
	sum := s.Star.X + s.Star.Y + s.Offset.X + s.Offset.Y + s.Sigma.X + s.Sigma.Y + s.Radius
	return !math.IsNaN(sum) && !math.IsInf(sum, 0) && s.Radius > 0 && s.Width > 0 && s.Height > 0
}

// look turns pixels into mm and updates track and estimate.
func (c *Coach) look(s observe.Sight) {
	if s.Found && !usable(s) {
		s.Found, s.Why = false, "no-ring"
	}
	if s.Facts != nil {
		c.learn(*s.Facts)
	}
	c.visible, c.why = s.Found, s.Why
	c.width, c.height = s.Width, s.Height
	middle := r2.Vec{X: float64(s.Width-1) / 2, Y: float64(s.Height-1) / 2}
	target := middle
	if c.s.Target != nil {
		target = *c.s.Target
	}
	px := c.o.Pixel
	c.frame = r2.Scale(px, r2.Sub(middle, target))
	if !s.Found {
		c.clouds.unseen(s.Why)
		c.midst = s.Seen && r2.Norm(r2.Sub(s.Star, middle)) < float64(s.Height)/4
		c.bank.Interrupt()
		c.unseen()
		c.watchFocus()
		if c.hand.kind == racking && c.hand.phase != settled && !c.hand.unseen {
			// Small rings burn out, blur or lose their shadow.
			if c.hand.lost += c.dt; c.hand.lost > vanished && c.hand.phase == waiting {
				c.began()
				c.enter(moving)
			}
		}
		return
	}
	c.lastFound, c.noShadow, c.warned = c.t, 0, 0
	star := r2.Scale(px, r2.Sub(s.Star, target))
	c.star = star
	c.radius = s.Radius * px
	c.radii = append(c.radii, hands.Point{T: c.t, At: r2.Vec{X: c.radius}})
	if len(c.radii) > 8 {
		c.radii = c.radii[1:]
	}
	d := c.track.Add(c.t, star)
	c.feel(d)
	c.feelFor()
	c.watchFocus()
	c.clouds.seen(s, c.dt)
	v, _ := c.track.Velocity()
	c.clouds.stays = c.box().holds(r2.Add(star, v)) // a second on
	if c.measurable() {
		c.bank.Measure(estimate.Reading{Star: star, Radius: c.radius, Offset: r2.Scale(px, s.Offset), Light: r2.Scale(px, s.Sigma)})
		if c.bank.Diverged() {
			c.startled()
		}
	} else {
		c.bank.Interrupt()
	}
	if c.hand.phase != moving && !c.driven && !c.track.Moving() {
		c.track.LearnDrift(c.t)
	}
}

// measurable reports whether the offset of this frame means what the model says.
func (c *Coach) measurable() bool {
	if c.driven || c.hand.kind == racking && c.hand.phase == moving || !c.calm() {
		return false
	}
	v, _ := c.track.Velocity()
	return r2.Norm(v) < 0.5
}

// calm reports whether the ring keeps its size from frame to frame.
func (c *Coach) calm() bool {
	n := len(c.radii)
	return n < 2 || math.Abs(c.radii[n-1].At.X-c.radii[n-2].At.X) < 0.03*c.radius
}

// steady reports whether the ring has kept its size for a while.
func (c *Coach) steady() bool {
	n := 0
	lo, hi := math.Inf(1), 0.0
	for _, p := range c.radii {
		if c.t-p.T < 0.45 {
			n++
			lo, hi = math.Min(lo, p.At.X), math.Max(hi, p.At.X)
		}
	}
	return n >= 4 && hi-lo < 0.03*hi
}

// startled is called when the offsets no longer fit what was believed: something
// moved unseen. The axis point is looked for anew.
func (c *Coach) startled() {
	c.bank.BranchOnFocusSide(0.2) // perhaps this is not the side that it is taken for
	c.bank.Shift(r2.Vec{}, 0.7*c.o.Tolerance)
	c.bank.InflateSilhouette(1)
	c.bank.MirrorMoved()
	c.bank.ResetGate()
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

// Hush says whether something else is being said that the person must hear first: as long
// as it is, nothing is asked for that can wait.
func (c *Coach) Hush(on bool) { c.voice.Others = on }

// Ended says that the words of a cue are out at time t, or were cut off.
func (c *Coach) Ended(id int, t float64) {
	c.voice.Ended(id)
	c.wordsOut(id, t)
}

// Dropped says that a cue will never be spoken.
func (c *Coach) Dropped(id int) { c.voice.Ended(id) }

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

// box is where the star should stay, edge where it must.
func (c *Coach) box() frameBox  { return c.inset(0.95) }
func (c *Coach) edge() frameBox { return c.inset(0.35) }

func (c *Coach) inset(rings float64) frameBox {
	px := c.o.Pixel
	in := rings*c.radius + 4*px
	half := r2.Vec{X: float64(c.width)/2*px - in, Y: float64(c.height)/2*px - in}
	half.X, half.Y = math.Max(half.X, 0.05), math.Max(half.Y, 0.05)
	return frameBox{centre: c.frame, half: half}
}
