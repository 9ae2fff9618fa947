package hands

// Kind is what a person was last asked to do.
type Kind int

const (
	Idle     Kind = iota
	Turning       // a knob or a screw
	Pushing       // the tube
	Racking       // the focuser
	Locking       // a knob's lock
	Plugging      // by day: the plug in the focuser, which is to be turned
)

// Phase is how far they are with it.
type Phase int

const (
	Waiting Phase = iota // asked, nothing has happened yet
	Moving
	Settled
)

// Task is what a person was last asked to do, and how far they are with it. Times seconds.
type Task struct {
	Kind      Kind
	Phase     Phase
	Knob      int     // of a turn, or of a lock
	SpokenAt  float64 // when the words were out; +Inf before that
	Since     float64 // when the phase began
	Stopped   bool    // stop was said
	Corrected bool    // a wrong knob or a wrong way was said
}

// Open reports whether something was asked for that is not over.
func (t *Task) Open() bool { return t.Kind != Idle && t.Phase != Settled }

// Enter begins a phase at time now.
func (t *Task) Enter(p Phase, now float64) { t.Phase, t.Since = p, now }
