package soak

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
	"halocue/internal/coach"
	"halocue/internal/coach/nights"
	"halocue/internal/guide"
	"halocue/internal/journal"
	"halocue/internal/virtual"
	"halocue/prompts"
)

// longestNight is when the stream of a night ends, s.
const longestNight = 600

// night is one night of a soak.
type night struct {
	Options
	figures        *Figures
	chance         *rand.Rand
	seed           uint64
	video, journal string
	pixels         bool
	faults         []fault
	t              float64 // now
	next           int     // the next of the changes
	changes        []change
	devices        chan guide.DeviceEvent
	commands       chan coach.Command
}

// mime speaks without a voice, as long as a voice would.
type mime struct{}

func (mime) Clip(_ context.Context, text string) (audio.Clip, error) {
	return audio.FromPCM(audio.Rate, make([]int16, int((0.15+0.061*float64(len(text)))*audio.Rate)))
}

func (n *night) run(ctx context.Context) (err error) {
	n.faults = draw(n.chance, longestNight)
	n.changes = changes(n.faults)
	n.devices, n.commands = make(chan guide.DeviceEvent, 64), make(chan coach.Command, 64)
	sky := virtual.Draw(n.seed, virtual.Options{})
	if n.pixels {
		sky = virtual.Draw(n.seed, virtual.Options{Width: 640, Height: 480, Pixel: 0.0075})
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
	var out guide.Outcome
	var truth virtual.Truth
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
func (n *night) parts(sky virtual.Night) (p guide.Parts, e *ear, err error) {
	words, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		return p, nil, err
	}
	c, err := coach.New(nights.Settings(sky, fps))
	if err != nil {
		return p, nil, err
	}
	e = &ear{}
	desk := audio.NewDesk(audio.Settings{})
	p = guide.Parts{
		Coach: c, Narrator: prompts.NewNarrator(words), Speech: mime{}, Desk: desk, Sink: audio.NewNull(desk),
		Transcript: guide.NewTranscript(e), Devices: n.devices, Commands: n.commands,
	}
	if n.pixels {
		p.Sink, err = audio.NewFile(desk, filepath.Join(n.Dir, "soak.wav"))
	}
	return p, e, err
}

// recorder is the journal, until its disk is full.
type recorder struct {
	n    *night
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

// count adds the night to the figures.
func (n *night) count(out guide.Outcome, truth virtual.Truth, sky virtual.Night, e *ear) {
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
	if off := r2.Norm(truth.Axis) / sky.Telescope.Tolerance(); out.Result == coach.Aligned && off > 1 {
		f.False++
		fmt.Fprintf(n.Log, "night %d, seed %d: aligned was said, %.2f tolerances off\n", f.Nights, n.seed, off)
	}
	if s, at := e.silence(out.Time); s > f.Silence {
		f.Silence, f.SilenceAt = s, fmt.Sprintf("night %d, seed %d, %.0f s, after %q", f.Nights, n.seed, at, e.before(at))
	}
	over := math.Min(out.Time, e.after("done", 0)) // what comes after the last words is not seen
	for _, x := range n.faults {
		if x.kind != "flood" || x.from+2 > over || overlaps(n.faults, x, "damaged") || overlaps(n.faults, x, "unplugged") {
			continue
		}
		if late := e.after("too-bright", x.from) - x.from; late > f.SunLate {
			f.SunLate = late
		}
	}
}

func overlaps(all []fault, with fault, kind string) bool {
	for _, f := range all {
		if f.kind == kind && f.from < with.from+2 && f.to+1 > with.from {
			return true
		}
	}
	return false
}
