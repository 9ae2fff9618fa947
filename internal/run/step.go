package run

import (
	"context"
	"fmt"

	"halocue/audio"
	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/prompts"
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// sightOf is a measurement as the coach takes it.
func sightOf(t float64, f *frame.Frame, m ring.Measurement) observe.Sight {
	s := observe.Sight{
		T: t, Width: f.Width, Height: f.Height,
		Found: m.Found, Why: string(m.Why), Star: m.Star, Seen: m.Seen || m.Found,
		Radius: m.Ring.Radius, Shadow: m.Shadow.Radius, Offset: m.Offset, Sigma: m.NoiseSigma,
		Level: m.Level, Clipped: m.Clipped, Softness: m.Softness,
	}
	if m.Found {
		s.Star.X, s.Star.Y = m.Ring.X, m.Ring.Y
	}
	for _, flag := range m.Flags {
		s.Flags = append(s.Flags, string(flag))
	}
	return s
}

func (n *night) measure(t float64, f *frame.Frame) observe.Sight {
	if n.LookDown != nil {
		return n.LookDown(t, f)
	}
	m := n.Meter.Track(f)
	n.album.see(t, f, m)
	s := sightOf(t, f, m)
	s.Facts = n.Figure.facts()
	if n.Keep != nil {
		n.Keep(t, f, s)
	}
	return s
}

// take takes in a sight and queues what follows from it.
func (n *night) take(t float64, s observe.Sight) {
	n.outcome.Frames++
	s = rounded(s)
	n.driveOn(t, s)
	n.advice(t, &s, n.Coach.See(s))
}

// advice writes down what the coach made of a sight (nil after a command), sets
// the tone, and queues the cues.
func (n *night) advice(t float64, s *observe.Sight, a cue.Advice) {
	if s != nil {
		if n.LookDown != nil {
			n.record(measuredDown(*s, a.Estimate))
		} else {
			m := measured(*s, a.Estimate)
			m.At = n.at
			n.record(m)
		}
	}
	if a.Stage != "" && a.Stage != n.stage {
		n.stage = a.Stage
		n.record(stageEvent{t, "stage", a.Stage})
		if m, ok := n.Coach.Memory(); ok {
			n.record(learnedEvent{t, "learned", m})
		}
	}
	cues := make([]prompts.Cue, len(a.Cues))
	for i, c := range a.Cues {
		n.record(decideEvent{t, "decide", c.Code, c.Reason})
		cues[i] = n.cue(c)
		if c.Action == cue.Done && !n.remarked {
			rest := n.Figure.remarks() // said after it, for what matters goes first
			n.remarked = len(rest) > 0
			cues = append(cues, rest...)
		}
	}
	n.Figure.follow(a)
	if a.Remind {
		n.Mixer.Play(audio.Reminder)
		n.record(signalEvent{round(t, 6), "signal", audio.Reminder.String()})
	}
	if len(cues) > 0 {
		n.note(n.Narrator.Add(t, cues...))
	}
	n.tone(t, a.Tone)
}

// tone changes what sounds, and writes it down ten times a second at most.
func (n *night) tone(t float64, c cue.Tone) {
	tone := audio.Tone{State: toneStates[c.State], Error: c.Error, Sigma: c.Sigma}
	n.Mixer.SetTone(tone)
	n.tellScore(t, tone)
	if tone.State == audio.Off || t < n.toneAt+toneEvery {
		return
	}
	n.toneAt = t
	n.record(toneEvent{t, "tone", round(n.Mixer.Mapping().Hz(tone), 1), toneNames[c.State], round(c.Error, 3), round(c.Sigma, 3)})
}

// toneEvery is a little less than a tenth of a second, which binary cannot hold.
const toneEvery = 0.0999

var toneStates = map[cue.ToneState]audio.State{
	cue.ToneOff: audio.Off, cue.ToneTrim: audio.Trim, cue.ToneInside: audio.Inside,
	cue.ToneStop: audio.Stop, cue.ToneCentre: audio.Centre, cue.ToneWait: audio.Wait,
}

var toneNames = map[cue.ToneState]string{
	cue.ToneTrim: "trim", cue.ToneInside: "inside", cue.ToneStop: "stop", cue.ToneCentre: "centre",
	cue.ToneWait: "wait",
}

// speak brings the words up to date: what has come to its end, what is cut, what
// begins now.
func (n *night) speak(ctx context.Context, t float64) {
	n.now = t
	if n.spoken != nil && t >= n.spoken.end-1e-9 {
		if n.wall {
			n.record(saidEvent{round(t, 6), "said"})
		}
		n.ended(n.spoken.end)
	}
	d := n.Narrator.Step(t, n.spoken != nil || n.announced != nil)
	if d.Cut {
		n.Mixer.Hush()
		n.undrive()
		n.ended(t)
		n.forgo()
	}
	for _, u := range d.Dropped {
		n.Coach.Dropped(u.Cue.ID)
		delete(n.driving.asked, u.Cue.ID)
	}
	if d.Start != nil {
		n.start(ctx, t, d.Start)
	}
	n.announce(ctx, t)
	if n.introducing && n.Narrator.Idle() {
		n.introducing = false
		n.Coach.Hush(false)
	}
}

// ended tells the coach that the words are out, or were cut off, at time t.
func (n *night) ended(t float64) {
	if n.spoken == nil {
		return
	}
	n.Coach.Ended(n.spoken.Cue.ID, t)
	n.drive(n.spoken.Cue.ID, t)
	if n.spoken.Cue.Result != "" {
		n.finished, n.unheard = !n.mute, n.mute
	}
	n.spoken = nil
}

// say begins an utterance: t is the first sample of its words.
func (n *night) say(ctx context.Context, t float64, u *prompts.Utterance) {
	clip, err := n.Speech.Clip(ctx, u.Text)
	if ctx.Err() != nil {
		return // the night is ended from outside: that its words were cut off is no failure
	}
	if err != nil {
		n.note(fmt.Errorf("saying %q: %w", u.Text, err))
		return
	}
	n.Mixer.Say(clip)
	n.spoken = &speaking{u, t + clip.Seconds()}
	n.Coach.Began(u.Cue.ID, t)
	c, asked := u.Cue, n.asking[u.Cue.ID]
	e := sayEvent{
		T: round(t, 6), Event: "say", Action: string(c.Action), Code: c.Code, Knob: c.Knob, Direction: c.Direction, Amount: u.Amount,
		Turns: round(c.Turns, 4), Result: c.Result, Seconds: round(clip.Seconds(), 6), Text: u.Text,
	}
	switch {
	case u.Repeat:
		e.Again, e.Why = true, "the person asked to hear it again"
	case asked.Again:
		e.Again, e.Why = true, asked.Reason
	}
	if asked.Goal != nil && c.Action == cue.Recentre {
		goal := vec(*asked.Goal, 1)
		e.GoalPx = &goal
	}
	n.record(e)
	if c.Action == cue.Turn {
		n.keepPicture("before", n.album.turn())
	}
	if n.Hands != nil {
		n.Hands(cue.Instruction{Action: c.Action, Knob: c.Knob, Direction: c.Direction, Turns: c.Turns, Begin: t, End: t + clip.Seconds(),
			Again: e.Again, Goal: asked.Goal, Back: c.Code == cue.CodeLostByKnob})
	}
	if n.Echo != nil {
		fmt.Fprintf(n.Echo, "%6.1f  %s\n", t, u.Text)
	}
	if c.Result != "" {
		n.outcome.Result = c.Result
	}
}

// record writes an event to the transcript and to the journal.
func (n *night) record(event any) {
	n.Transcript.write(event)
	if n.Recorder != nil {
		if err := n.Recorder.Record(event); err != nil {
			n.Recorder = nil // once is enough; the night goes on without it
			n.unwritten(err)
		}
	}
}
