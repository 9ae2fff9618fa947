package run

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"halocue/audio/command"
	"halocue/internal/observe"
	"halocue/internal/record"
	"halocue/vision/frame"
)

// Recorded is how a night was recorded, for Replay. Its zero value is one whose transcript
// is all that there is.
type Recorded struct {
	// Frame returns a frame that was kept, by its file's name; nil for none. One that
	// cannot be read is an error, and its sight is taken from the transcript.
	Frame func(file string) (*frame.Frame, error)

	Wall bool // by the wall clock: words began and ended between the frames, when the transcript says
}

// Replayed is what became of a Replay.
type Replayed struct {
	Outcome
	Measured int   // frames that were measured again
	Missing  int   // that were kept once, and of which the sight stands in the transcript alone
	Why      error // why the first of those was not measured again; nil: it was left out, to save room
	Damaged  int   // lines of the transcript that are none, as the last one where a night was cut off
}

// replay is a Replay under way.
type replay struct {
	*night
	Recorded
	ctx   context.Context
	last  float64           // time of the newest event, s
	seen  float64           // when the newest frame was, s
	said  bool              // what follows from the newest event has been said
	now   record.FrameEvent // of the frame whose measurement comes next
	facts []*observe.Facts  // that careful measurements found today, and the night had not found yet
	got   Replayed
}

// Replay runs a recorded night past the coach of p, by the times of its transcript: its
// frames measured again with p's Meter where they were kept, else the sights that the
// transcript holds. What would have been said? The hands in the recording did what its own
// coach said, so the two part ways once their cues differ. Commands and what befell the
// devices are repeated; motors are not. Lines that are none are left out and counted. Source
// is not used.
func Replay(ctx context.Context, p Parts, transcript io.Reader, how Recorded) (Replayed, error) {
	r := replay{night: begin(p), Recorded: how, ctx: ctx, said: true}
	r.seen = math.Inf(-1)
	lines := bufio.NewScanner(transcript)
	lines.Buffer(nil, record.LongestLine)
	for lines.Scan() && !r.finished && r.failure == nil && ctx.Err() == nil && r.outcome.Result == "" {
		if err := r.line(lines.Bytes()); err != nil {
			r.got.Damaged++
		}
	}
	if errors.Is(lines.Err(), bufio.ErrTooLong) {
		r.got.Damaged++
	} else if err := lines.Err(); err != nil {
		return r.got, fmt.Errorf("reading the transcript: %w; copy it again", err)
	}
	if r.outcome.Frames == 0 && ctx.Err() == nil {
		return r.got, fmt.Errorf("there is no measurement in the transcript; give a file that collimate --transcript wrote")
	}
	r.say()
	r.got.Outcome = r.end(context.WithoutCancel(ctx), r.last, "", 0.1)
	return r.got, r.err()
}

// line takes in one event.
func (r *replay) line(text []byte) error {
	var e struct {
		T     float64
		Event string
	}
	if err := json.Unmarshal(text, &e); err != nil {
		return err
	}
	switch e.Event {
	case "frame":
		return json.Unmarshal(text, &r.now)
	case "measure":
		var m measureEvent
		if err := json.Unmarshal(text, &m); err != nil {
			return err
		}
		if m.T >= r.seen {
			r.measured(m)
		}
	case "say", "signal", "said":
		if r.Wall && e.T >= r.last {
			r.said = r.said || e.T-r.last < tickEvery.Seconds() // what follows from the event before is this
			r.until(e.T)
			r.said = false
			r.say()
		}
	case "command":
		var c commandEvent
		if err := json.Unmarshal(text, &c); err != nil {
			return err
		}
		r.until(c.T)
		r.command(c.T, command.Command(c.Command))
		r.said = false
	case "device":
		var d deviceEvent
		if err := json.Unmarshal(text, &d); err != nil {
			return err
		}
		if d.Code != "" {
			r.until(d.T)
			r.device(d.T, DeviceEvent{Device: d.Device, State: d.State, Code: d.Code, On: d.On})
			r.said = false
		}
	}
	return nil
}

// measured takes in a sight, measured again where its frame is there.
func (r *replay) measured(m measureEvent) {
	s, t := m.Sight(m.T), m.T
	if r.now.File != "" && math.Abs(r.now.T-m.T) < 1e-3 && r.Frame != nil {
		if f, err := r.Frame(r.now.File); err == nil && f != nil {
			t = r.now.T
			s = r.measure(t, f)
			s.Facts = r.when(s.Facts, m.Facts)
			r.got.Measured++
		} else {
			r.when(nil, m.Facts)
			r.got.Missing++
			r.got.Why = cmp.Or(r.got.Why, err)
		}
		r.now = record.FrameEvent{}
	}
	r.until(max(t, m.At))
	r.seen = m.T
	if m.Why == observe.Unreadable {
		r.bad(t)
	} else {
		r.good(t, s)
	}
	r.said = false
}

// when holds back the result of a careful measurement until the frame at which the recorded
// night had it: that night the measurement took a while, in a replay it takes no time.
func (r *replay) when(found, then *observe.Facts) *observe.Facts {
	if found != nil {
		r.facts = append(r.facts, found)
	}
	if then == nil || len(r.facts) == 0 {
		return nil
	}
	found = r.facts[0]
	r.facts = r.facts[1:]
	return found
}

// until goes on to time t, s.
func (r *replay) until(t float64) {
	if t <= r.last {
		return
	}
	r.say()
	r.advance(t - r.last)
	r.last = t
}

// say lets the narrator say what follows from the newest event.
func (r *replay) say() {
	if !r.said {
		r.speak(r.ctx, r.last)
		r.said = true
	}
}
