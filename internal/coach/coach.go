package coach

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Coach is one night's guidance. It is not safe for concurrent use.
type Coach struct {
	s      Settings
	o      optic
	belief *belief
	track  *track
	knobs  *responses
	hand   hand
	voice  Voice

	// The newest sight, mm relative to the target.
	t, dt, first  float64 // dt since the sight before
	started       bool
	visible       bool // a ring was measured
	why           string
	lastFound     float64
	star          r2.Vec
	radius        float64
	radii         []point // recent radii in s.X
	ringWas       float64 // the ring's steady radius; 0 unknown
	odd           float64 // seconds for which it has been another
	frame         r2.Vec  // the frame's centre relative to the target
	width, height int

	// The plan.
	reaction float64 // from the words to the move, seconds, as learned
	proven   *r2.Vec // the axis point when a claim last stood
	stage    string
	aim      float64 // how far the star should go in the turn last asked for
	repeats  int     // how often the last turn was asked for again, in vain
	shifted  r2.Vec  // way of the axis point since the sides were last seen
	screws   screws  // made since the start, as far as the star tells
	locks    locks
	sideT    float64 // when this side was reached
	proveT   float64 // when the mirror last moved
	lastTurn struct {
		knob int
		way  float64
		did  float64 // how far the star went, mm, > 0 tightened
	}
	gone     [3]float64 // how far each knob has taken the star, mm, > 0 tightened
	goBackTo [3]float64 // how far it should have, while turns are taken back
	tries    int        // rackings to the other side asked for since one succeeded
	trouble  float64    // when trouble was last spoken of
	sunny    int        // frames in a row flooded with light
	sunT     float64    // when the Sun was last warned of
	veil     veil
	clouded  bool // a cloud was said, and that it is over was not
	midst    bool // what was seen last, and was no ring, lay in the middle of the frame
	undoing  bool // the turns are being taken back
	noted    notes
	held     bool
	driven   bool // a motor does what the hand was asked to do
	done     bool
}

// New returns a coach for one night, or what is wrong with the settings.
func New(s Settings) (*Coach, error) {
	s, err := s.filled()
	if err != nil {
		return nil, err
	}
	o := newOptic(s)
	c := &Coach{
		s: s, o: o, belief: newBelief(o), track: newTrack(o.f), knobs: newResponses(s.Knobs, o.gain),
		voice: NewVoice(longest), screws: screws{kind: s.Kind}, stage: "find", trouble: math.Inf(-1), reaction: s.ReactionS,
	}
	if m := s.Memory; m != nil {
		c.knobs.recall(m)
		if m.Reaction > 0 {
			c.reaction = m.Reaction
		}
	}
	return c, nil
}

// See takes in one frame's sight, also one in which nothing was found.
func (c *Coach) See(s Sight) Advice {
	if math.IsNaN(s.T) || c.started && s.T < c.t {
		s.T = c.t
	}
	if !c.started {
		c.started, c.first, c.lastFound, c.trouble = true, s.T, s.T, s.T-3
	}
	c.dt, c.t = math.Min(s.T-c.t, 0.5), s.T
	c.voice.Expire(c.t)
	c.look(s)
	return c.advise(c.decide())
}

// decide returns what is to be said after a sight.
func (c *Coach) decide() []Cue {
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
	return c.next()
}

// longest is how long words may take, seconds.
const longest = 15

// replaces tells the actions that replace what the hand was doing.
func replaces(a Action) bool { return a == Stop || a == Wait || a == Turn || a == Recentre }

// advise numbers the cues and puts the belief beside them.
func (c *Coach) advise(cues []Cue) Advice {
	for i := range cues {
		c.voice.Emit(&cues[i], c.t, replaces(cues[i].Action))
		if cues[i].Action == Done {
			c.done, c.stage = true, "done"
		}
	}
	return Advice{Cues: cues, Tone: c.tone(), Belief: c.told(), Stage: c.stage, Done: c.done}
}

// usable reports whether a measurement is made of numbers that can be used.
func usable(s Sight) bool {
	sum := s.Star.X + s.Star.Y + s.Offset.X + s.Offset.Y + s.Sigma.X + s.Sigma.Y + s.Radius
	return !math.IsNaN(sum) && !math.IsInf(sum, 0) && s.Radius > 0 && s.Width > 0 && s.Height > 0
}

// look turns pixels into mm and updates track and belief.
func (c *Coach) look(s Sight) {
	if s.Found && !usable(s) {
		s.Found, s.Why = false, "no-ring"
	}
	c.visible, c.why = s.Found, s.Why
	c.width, c.height = s.Width, s.Height
	middle := r2.Vec{X: float64(s.Width-1) / 2, Y: float64(s.Height-1) / 2}
	target := middle
	if c.s.Target != nil {
		target = *c.s.Target
	}
	px := c.o.pixel
	c.frame = r2.Scale(px, r2.Sub(middle, target))
	if !s.Found {
		c.veil.unseen(s.Why)
		c.midst = s.Seen && r2.Norm(r2.Sub(s.Star, middle)) < float64(s.Height)/4
		c.belief.noise.interrupt()
		c.unseen()
		c.watchFocus()
		if c.hand.kind == racking && c.hand.phase != settled {
			// Small rings burn out, blur or lose their shadow.
			if c.hand.lost += c.dt; c.hand.lost > vanished && c.hand.phase == waiting {
				c.enter(moving)
			}
		}
		return
	}
	c.lastFound = c.t
	star := r2.Scale(px, r2.Sub(s.Star, target))
	c.star = star
	c.radius = s.Radius * px
	c.radii = append(c.radii, point{c.t, r2.Vec{X: c.radius}})
	if len(c.radii) > 8 {
		c.radii = c.radii[1:]
	}
	d := c.track.add(c.t, star)
	c.feel(d)
	c.watchFocus()
	c.veil.seen(s, c.dt)
	v, _ := c.track.velocity()
	c.veil.stays = c.box().holds(r2.Add(star, v)) // a second on
	if c.measurable() {
		sigma := r2.Scale(px, s.Sigma)
		c.belief.measure(star, c.radius, r2.Scale(px, s.Offset), sigma)
		if c.belief.astray() {
			c.startled()
		}
	} else {
		c.belief.noise.interrupt()
	}
	if c.hand.phase != moving && !c.driven && !c.track.moving() {
		c.track.learnDrift(c.t)
	}
}

// measurable reports whether the offset of this frame means what the model says.
func (c *Coach) measurable() bool {
	if c.driven || c.hand.kind == racking && c.hand.phase == moving || !c.calm() {
		return false
	}
	v, _ := c.track.velocity()
	return r2.Norm(v) < 0.5
}

// calm reports whether the ring keeps its size from frame to frame.
func (c *Coach) calm() bool {
	n := len(c.radii)
	return n < 2 || math.Abs(c.radii[n-1].s.X-c.radii[n-2].s.X) < 0.03*c.radius
}

// steady reports whether the ring has kept its size for a while.
func (c *Coach) steady() bool {
	n := 0
	lo, hi := math.Inf(1), 0.0
	for _, p := range c.radii {
		if c.t-p.t < 0.45 {
			n++
			lo, hi = math.Min(lo, p.s.X), math.Max(hi, p.s.X)
		}
	}
	return n >= 4 && hi-lo < 0.03*hi
}

// startled is called when the offsets no longer fit what was believed: something
// moved unseen. The axis point is looked for anew.
func (c *Coach) startled() {
	c.belief.racked(0.2) // perhaps this is not the side that it is taken for
	c.belief.shift(r2.Vec{}, 0.7*c.o.tol)
	c.belief.loosenQ(1)
	c.belief.changed()
	c.belief.trust()
}

// Began says that the words of a cue have begun at time t, seconds.
func (c *Coach) Began(id int, t float64) { c.voice.Began(id, t) }

// Ended says that the words of a cue are out at time t, or were cut off.
func (c *Coach) Ended(id int, t float64) {
	cue, ok := c.voice.Ended(id)
	if !ok {
		return
	}
	switch cue.Action {
	case Turn, Recentre, Defocus, OtherSide, Lock:
		c.begin(cue, t)
	}
}

// Dropped says that a cue will never be spoken.
func (c *Coach) Dropped(id int) { c.voice.Ended(id) }

// told is the belief for the transcript.
func (c *Coach) told() Belief {
	if c.belief.n < 3 {
		return Belief{Star: c.star}
	}
	a, sd := c.belief.axis()
	b := Belief{
		Axis: a, AxisSigma: sd, Star: c.star, Known: true,
		Ratio: r2.Norm(a) / c.o.tol, Bound: c.belief.worst(c.star) / c.o.tol,
		R0: c.o.fried(math.Sqrt(c.belief.noise.sd2())),
	}
	p := c.belief.outside()
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
	px := c.o.pixel
	in := rings*c.radius + 4*px
	half := r2.Vec{X: float64(c.width)/2*px - in, Y: float64(c.height)/2*px - in}
	half.X, half.Y = math.Max(half.X, 0.05), math.Max(half.Y, 0.05)
	return frameBox{centre: c.frame, half: half}
}
