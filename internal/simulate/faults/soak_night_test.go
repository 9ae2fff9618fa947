package faults

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"syscall"
	"time"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/audio/command"
	"halocue/internal/coach/night"
	"halocue/internal/cue"
	"halocue/internal/journal"
	"halocue/internal/run"
	"halocue/internal/simulate/nights"
	"halocue/internal/simulate/telescope"
	"halocue/prompts"
)

// longestNight is when the stream of a night ends, s.
const longestNight = 600

// session is one night of a soak.
type session struct {
	soakOptions
	figures        *figures
	chance         *rand.Rand
	seed           uint64
	video, journal string
	pixels         bool
	faults         []fault
	t              float64 // now
	next           int     // the next of the changes
	changes        []change
	devices        chan run.DeviceEvent
	commands       chan command.Command
}

func (n *session) run(ctx context.Context) (err error) {
	n.faults = draw(n.chance, longestNight)
	n.changes = changes(n.faults)
	n.devices, n.commands = make(chan run.DeviceEvent, 64), make(chan command.Command, 64)
	sky := nights.Draw(n.seed, nights.DrawOptions{})
	if n.pixels {
		sky = nights.Draw(n.seed, nights.DrawOptions{Width: 640, Height: 480, Pixel: 0.0075})
		sky.Camera.Bits = 8
	}
	p, ear, err := n.parts(sky)
	if err != nil {
		return err
	}
	j, err := journal.Open(n.journal)
	if err != nil {
		return err
	}
	written, err := j.Begin(journal.Start{At: time.Now(), Version: "soak"})
	if err != nil {
		return errors.Join(err, j.Close())
	}
	p.Recorder = recorder{n, written}
	var out run.Outcome
	var truth telescope.Truth
	if n.pixels {
		out, truth, err = n.throughPixels(ctx, p, sky)
	} else {
		out, truth, err = n.throughLooks(ctx, p, sky)
	}
	err = errors.Join(err, written.End(time.Now(), out.Result), j.Close(), p.Sink.Close())
	n.count(out, truth, sky, ear)
	return err
}

// parts are those of any night.
func (n *session) parts(sky telescope.Night) (p run.Parts, e *ear, err error) {
	words, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		return p, nil, err
	}
	c, err := night.New(nights.Settings(sky, soakFPS))
	if err != nil {
		return p, nil, err
	}
	e = &ear{}
	mixer := audio.NewMixer(audio.Settings{})
	p = run.Parts{
		Coach: c, Narrator: prompts.NewNarrator(words), Speech: mime{}, Mixer: mixer, Sink: audio.NewNull(mixer),
		Transcript: run.NewTranscript(e), Devices: n.devices, Commands: n.commands,
	}
	if n.pixels {
		p.Sink, err = audio.NewFile(mixer, filepath.Join(n.Dir, "soak.wav"))
	}
	return p, e, err
}

// recorder is the journal, until its disk is full.
type recorder struct {
	n    *session
	into *journal.Night
}

func (r recorder) Record(event any) error {
	for _, f := range r.n.faults {
		if f.kind == "journal" && r.n.t >= f.from {
			return fmt.Errorf("writing the journal: %w", syscall.ENOSPC)
		}
	}
	return r.into.Record(event)
}

func (r recorder) Picture(name string, t float64, marks any, png []byte) error {
	return r.into.Picture(name, t, marks, png)
}

// count adds the night to the figures.
func (n *session) count(out run.Outcome, truth telescope.Truth, sky telescope.Night, e *ear) {
	f := n.figures
	f.Hours += out.Time / 3600
	f.Frames += out.Frames
	f.Bad += out.Bad
	f.Said += len(e.said)
	f.Results[out.Result]++
	if n.pixels {
		f.Pixels++
	}
	for _, x := range n.faults {
		if x.from < out.Time {
			f.Faults[x.kind]++
		}
	}
	if off := r2.Norm(truth.Axis) / sky.Telescope.Tolerance(); out.Result == cue.Aligned && off > 1 {
		f.False++
		fmt.Fprintf(n.Log, "night %d, seed %d: aligned was said, %.2f tolerances off\n", f.Nights, n.seed, off)
	}
	if s, at := e.silence(out.Time); s > f.Silence {
		f.Silence, f.SilenceAt = s, fmt.Sprintf("night %d, seed %d, %.0f s, after %q", f.Nights, n.seed, at, e.before(at))
	}
	over := math.Min(out.Time, e.after("done", 0)) // nothing is measured after the last words
	for _, x := range n.faults {
		if x.kind != "flood" || x.from+2 > over || overlaps(n.faults, x, "damaged") || overlaps(n.faults, x, "unplugged") {
			continue
		}
		if e.after("too-bright", x.from-sunAgain) < x.from {
			continue // light that comes back so soon was just warned of
		}
		if late := e.after("too-bright", x.from) - x.from; late > f.SunLate {
			f.SunLate = late
		}
	}
}

// sunAgain is how soon the warning of the Sun is said again, s: the prompts catalogue.
const sunAgain = 8

func overlaps(all []fault, with fault, kind string) bool {
	for _, f := range all {
		if f.kind == kind && f.from < with.from+2 && f.to+1 > with.from {
			return true
		}
	}
	return false
}
