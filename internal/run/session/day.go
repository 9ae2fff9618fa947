package session

import (
	"context"
	"errors"

	"halocue/config"
	"halocue/internal/journal"
	"halocue/internal/run/parts"
)

// Day runs a day with the settings: both mirrors, roughly, through a peephole.
func Day(ctx context.Context, w *parts.World, c config.Config, o Options, v Virtual) error {
	s, err := open(ctx, w, c, o, v)
	if err != nil {
		return err
	}
	defer s.parts.Source.Close()
	p := &s.parts
	p.Warn, p.LookDown = []string{"indoors"}, parts.Peephole(c)
	if p.Coach, err = parts.DayCoach(c); err != nil {
		return err
	}
	if err := s.transcribe(); err != nil {
		return err
	}
	end := s.keep(ctx, p)
	p.Memory = nil // a night teaches no day
	if p.Recorder != nil {
		err = p.Recorder.Record(dayEvent{Event: "session", Kind: journal.Indoors})
	}
	out, failed := play(ctx, w, c, o.FPS, o.Frames, *p, s.events)
	s.world.Complain(errors.Join(err, end(out.Result)))
	if err := errors.Join(failed, s.closeFiles()); err != nil {
		return err
	}
	s.summary(out)
	return nil
}

// dayEvent says in the journal that this is no night.
type dayEvent struct {
	T     float64 `json:"t"`
	Event string  `json:"event"` // session
	Kind  string  `json:"kind"`
}
