package day

import (
	"cmp"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/coach"
	"halocue/internal/cue"
	"halocue/internal/hands"
	"halocue/internal/observe"
	"halocue/internal/optics"
)

// step is one of the two: three screws, and what they bring to zero.
type step struct {
	names  [3]string
	screws *response
	turned [3]float64 // since the start, > 0 tightened, as far as the view tells
	limits limits
	track  track
	nudge  float64 // turns, where an answer is not known yet
	goal   float64 // mm
	asked  int     // turns that were asked for
	odd    int     // turns in a row that answered as no screw does
}

// Coach is one day's guidance. It is not safe for concurrent use.
type Coach struct {
	s     coach.Settings
	small step // the secondary
	large step // the main mirror
	on    *step
	stage string

	t, first float64
	started  bool
	visible  bool
	why      string
	seen     float64 // when the view was last whole enough to measure
	down     observe.Down
	scale    float64 // mm on the mirror in a pixel
	gap      float64 // of the secondary about the mirror, mm on the mirror
	offSigma float64
	spotted  float64 // when mark and reflection were last seen together
	spotSD   float64 // one-sigma of the two in one frame, mm
	spotSize float64 // radius of the reflection, mm
	sizes    sizes
	hidden   int // nudges to bring it out from behind the mark

	target   r2.Vec // where the reflection should stand from the mark: not (0, 0) where the peephole is off the middle
	plug     plug
	locks    locks
	shift    shift
	missed   int  // how often it was said that the spot is not seen
	markless bool // the person goes on without a mark
	said     map[string]float64
	last     string // of those, the last
	sunny    int

	hand  hand
	voice cue.Voice
	pause coach.Pause
	done  bool
}

// New returns a coach for one day, or what is wrong with the settings.
func New(s coach.Settings) (*Coach, error) {
	if err := s.Fill(); err != nil {
		return nil, err
	}
	t := s.Telescope
	// What a turn does to the view, mm on the mirror. A secondary that turns by x
	// turns what it shows by x to 2 x, as seen over its distance from the mirror.
	smallGain := 1.5 * optics.KnobTilt(1, smallPitch, smallCircle*secondary(t)) * t.SecondaryAt()
	largeGain := 2 * t.FocalLength * optics.KnobTilt(1, s.PitchMM, s.BoltRadiusMM)
	c := &Coach{
		s: s, stage: "look", voice: cue.NewVoice(longest), said: map[string]float64{}, spotted: math.Inf(-1), spotSD: 0.2,
		small: step{names: Screws, screws: newResponse(smallGain), track: newTrack(),
			limits: limits{tighten: 0.5, loosen: 0.125, back: 0.2, on: 4}, nudge: 0.15, goal: 3},
		large: step{screws: newResponse(largeGain), track: newTrack(),
			limits: limits{tighten: 1, loosen: 1, back: 3, on: 6}, nudge: math.Min(math.Max(4/largeGain, 0.1), 0.3), goal: Goal(t)},
	}
	for k := range c.large.names {
		c.large.names[k] = s.Knobs[k].Name
	}
	c.on = &c.small
	return c, nil
}

// See takes in one frame's sight, also one in which nothing was found.
func (c *Coach) See(s observe.Sight) cue.Advice {
	if math.IsNaN(s.T) || c.started && s.T < c.t {
		s.T = c.t
	}
	if !c.started {
		c.started, c.first, c.seen = true, s.T, s.T
	}
	c.t = s.T
	c.voice.Expire(c.t)
	c.visible, c.why = s.Found && s.Down != nil && sane(s.Down), s.Why
	if c.visible {
		c.seen = c.t
		c.look(*s.Down)
	}
	return c.advise(c.decide())
}

// sane reports whether a view is made of numbers that can be used.
func sane(d *observe.Down) bool {
	sum := d.Primary.X + d.Primary.Y + d.Secondary.X + d.Secondary.Y + d.PrimaryRadius + d.SecondaryRadius + d.Mark.X + d.Mark.Y + d.Spot.X + d.Spot.Y
	return !math.IsNaN(sum) && !math.IsInf(sum, 0) && d.PrimaryRadius > 0 && d.SecondaryRadius > 0
}

// look turns pixels into mm on the mirror.
func (c *Coach) look(d observe.Down) {
	c.down = d
	c.scale = c.s.Telescope.Aperture / 2 / d.PrimaryRadius
	c.gap = (d.SecondaryRadius - d.PrimaryRadius) * c.scale
	c.offSigma = d.OffSigma * c.scale
	c.small.goal = math.Max(evenness*c.gap, 3)
	c.small.track.add(c.t, r2.Scale(c.scale, r2.Sub(d.Primary, d.Secondary)))
	if lean, ok := c.lean(); ok && c.sizes.usual(d.SpotRadius*c.scale) {
		c.spotted = c.t
		c.spotSD, c.spotSize = d.SpotSigma*c.scale, d.SpotRadius*c.scale
		c.large.track.add(c.t, r2.Sub(lean, c.target))
	}
	c.focuser(d)
}

// lean is the reflection's place from the mark, mm, if both are seen; without a
// mark, and if the person wants to do without, from the middle of the mirror.
func (c *Coach) lean() (r2.Vec, bool) {
	d := &c.down
	switch {
	case d.Marked && d.Reflected:
		return r2.Scale(c.scale, r2.Sub(d.Spot, d.Mark)), true
	case c.markless && d.Reflected && d.Whole:
		return r2.Scale(c.scale, r2.Sub(d.Spot, d.Primary)), true
	}
	return r2.Vec{}, false
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
	if c.voice.Busy() || c.pause.On {
		return nil
	}
	if c.t-c.first > dayLength {
		return c.finish(cue.GivenUp, "it has taken too long", cmp.Or(c.hinders(), NextAgain))
	}
	if cues, busy := c.handBusy(); busy {
		return cues
	}
	if !c.visible {
		return c.blind()
	}
	return c.next()
}

// longest is how long words may take, seconds: how a mark is put on takes some thirty.
const longest = 45

// advise numbers the cues and puts the tone beside them.
func (c *Coach) advise(cues []cue.Cue) cue.Advice {
	for i := range cues {
		c.voice.Emit(&cues[i], c.t)
		if cues[i].Action == cue.Done {
			c.done, c.stage = true, "done"
		}
	}
	return cue.Advice{Cues: cues, Tone: c.tone(), Estimate: c.estimated(), Stage: c.stage}
}

// tone is how far from true what is being adjusted is.
func (c *Coach) tone() cue.Tone {
	if c.done || !c.visible || c.stage == "look" || c.hand.Kind == hands.Plugging || c.on == &c.large && c.t-c.spotted > 0.5 {
		return cue.Tone{}
	}
	y, sd := c.on.track.now(0.25)
	if math.IsInf(sd, 0) {
		return cue.Tone{}
	}
	tone := cue.Tone{State: cue.ToneTrim, Error: r2.Norm(y) / c.on.goal, Sigma: sd / c.on.goal}
	switch {
	case c.hand.Stopped && c.hand.Phase == hands.Moving:
		tone.State = cue.ToneStop
	case tone.Error < 1:
		tone.State = cue.ToneInside
	}
	return tone
}

// estimated is where the axis passes the peephole, for the transcript: half of what
// the mirror shows, in goals.
func (c *Coach) estimated() cue.Estimate {
	y, sd := c.large.track.now(1)
	if math.IsInf(sd, 0) || c.t-c.spotted > 1 {
		return cue.Estimate{}
	}
	bound := r2.Norm(y) + 3*math.Hypot(sd, c.spotSD)
	return cue.Estimate{
		Axis: r2.Scale(-0.5, y), AxisSigma: r2.Vec{X: sd / 2, Y: sd / 2},
		Ratio: r2.Norm(y) / c.large.goal, Bound: bound / c.large.goal, Known: true,
	}
}

// Began says that the words of a cue have begun at time t, seconds.
func (c *Coach) Began(id int, t float64) { c.voice.Began(id, t) }

// Dropped says that a cue will never be spoken.
func (c *Coach) Dropped(id int) {
	if cue, ok := c.voice.Ended(id); ok {
		delete(c.said, cue.Code) // nobody has heard of it
	}
}

// Ended says that the words of a cue are out at time t, or were cut off.
func (c *Coach) Ended(id int, t float64) {
	say, ok := c.voice.Ended(id)
	if !ok {
		return
	}
	switch say.Action {
	case cue.Turn, cue.HalfTurn, cue.Lock:
		c.begin(say, t)
	}
}

// Hush says whether something else is being said that the person must hear first.
func (c *Coach) Hush(on bool) { c.voice.Others = on }

// Memory returns nothing: a day teaches no night.
func (c *Coach) Memory() (m coach.Memory, ok bool) { return m, false }

// Driven declines: there are no motors for this.
func (c *Coach) Driven(float64) bool { return false }

// Arrived is never needed.
func (c *Coach) Arrived(float64, bool) {}
