package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"golang.org/x/text/language"
	"gonum.org/v1/gonum/spatial/r2"

	"halocue/audio"
	"halocue/audio/device"
	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/guide"
	"halocue/internal/measure"
	"halocue/internal/virtual"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision"
	"halocue/vision/camera"
	"halocue/vision/ring"
)

// virtualSeed reads the source "virtual" or "virtual:SEED".
func virtualSeed(source string) (seed uint64, ok bool, err error) {
	rest, ok := strings.CutPrefix(source, "virtual")
	if !ok || rest != "" && rest[0] != ':' {
		return 0, false, nil
	}
	if rest == "" {
		return 1, true, nil
	}
	seed, err = strconv.ParseUint(rest[1:], 10, 64)
	if err != nil {
		return 0, false, fmt.Errorf("camera %q: give the virtual telescope's seed as a whole number, as in virtual:7", source)
	}
	return seed, true, nil
}

// openSource opens the camera that the settings name. By the wall clock one that
// goes away is opened again when it is back, even as another device; with --wait,
// one that is not there yet is waited for.
func (a *app) openSource(ctx context.Context, c config.Config, g guideFlags, frames bool, events chan<- guide.DeviceEvent) (vision.Source, error) {
	told := cameraEvents(events)
	open := func(ctx context.Context) (vision.Source, error) {
		o := camera.Options{FPS: g.fps, Frames: frames, Stdin: a.stdin}
		return camera.Keep(ctx, c.Camera.Source, o, camera.KeepOptions{Event: told})
	}
	if g.wait && !frames && c.Camera.Source != "-" {
		return vision.Reopen(nil, open, vision.ReopenOptions{Event: told}), nil // the words need not wait
	}
	return open(ctx)
}

// newMeter makes the ring measurement for the settings.
func newMeter(c config.Config) *ring.Meter {
	mm, assumed := c.Camera.Pixel()
	if assumed {
		mm = 0
	}
	return ring.NewMeter(ring.Config{Telescope: c.Optics(), PixelMM: mm})
}

// newFigure makes the ring measurement that also remarks what else the ring shows.
func newFigure(c config.Config) *guide.Figure {
	mm, assumed := c.Camera.Pixel()
	if assumed {
		mm = 0
	}
	return guide.NewFigure(newMeter(c), measure.Job{Telescope: c.Optics(), PixelMM: mm})
}

// newCoach makes the coach for the settings.
func newCoach(c config.Config, fps float64, m *coach.Memory) (*coach.Coach, error) {
	mm, assumed := c.Camera.Pixel()
	if assumed {
		mm = 0
	}
	s := coach.Settings{
		Telescope: c.Optics(), PixelMM: mm,
		PitchMM: c.MirrorCell.ScrewPitchMM, BoltRadiusMM: c.ScrewRadius(), Kind: c.MirrorCell.Kind, Locks: c.MirrorCell.Locks,
		Corrector: c.Telescope.Corrector, EarDelayS: c.Sound.DelayMS / 1000, FPS: fps, Memory: m,
	}
	if len(c.Camera.CentrePX) == 2 {
		s.Target = &r2.Vec{X: c.Camera.CentrePX[0], Y: c.Camera.CentrePX[1]}
	}
	for _, k := range c.MirrorCell.Knobs {
		s.Knobs = append(s.Knobs, coach.Knob{Name: k.Name, Clock: k.Clock})
	}
	return coach.New(s)
}

// newVoice makes the voice that the settings name; what fails in it is said as an
// event, and something else takes its place.
func newVoice(c config.Voice, events chan<- guide.DeviceEvent) (voice.Voice, error) {
	return voice.New(voice.Config{
		Engine: c.Engine, Command: strings.Fields(c.Command), Language: c.Language, WPM: c.SpeedWPM,
		Report: func(err error) {
			tell(events, guide.DeviceEvent{Device: "voice", State: "lost", Detail: err.Error(), Code: "voice-lost", On: true})
		},
	})
}

// tell passes an event on; one that nobody waits for any more is dropped.
func tell(events chan<- guide.DeviceEvent, e guide.DeviceEvent) {
	select {
	case events <- e:
	default:
	}
}

// verbosities are the settings' names for how many words a cue is given.
var verbosities = map[string]prompts.Verbosity{"short": prompts.Brief, "normal": prompts.Normal, "full": prompts.Full}

// newPhrases makes the words of the settings' language.
func newPhrases(c config.Voice) (*prompts.Phrases, error) {
	tag, err := language.Parse(c.Language)
	if err != nil {
		return nil, fmt.Errorf("language %q: %w; choose one that halocue speaks", c.Language, err)
	}
	return prompts.New(tag, verbosities[c.Verbosity])
}

// newDesk makes the mixing desk for the settings.
func newDesk(c config.Sound) (*audio.Desk, error) {
	mode, err := audio.ParseMode(c.Mode)
	if err != nil {
		return nil, err
	}
	wave, err := audio.ParseWaveform(c.Waveform)
	if err != nil {
		return nil, err
	}
	return audio.NewDesk(audio.Settings{
		Mapping: audio.Mapping{Mode: mode, Wave: wave, Low: c.LowestHZ, High: c.HighestHZ, Curve: c.Curve, Reference: c.Reference},
		Volume:  audio.VolumeDB(c.Volume),
	}), nil
}

// openSink opens what the desk is played on: default, none or FILE.wav.
func openSink(ctx context.Context, c config.Sound, d *audio.Desk, events chan<- guide.DeviceEvent) (audio.Sink, error) {
	switch {
	case c.Output == "none":
		return audio.NewNull(d), nil
	case strings.HasSuffix(strings.ToLower(c.Output), ".wav"):
		return audio.NewFile(d, c.Output)
	}
	name := c.Output
	if name == "default" {
		name = ""
	}
	return device.Open(device.Config{
		Desk: d, Output: name, Microphone: c.Microphone, ExtraDelay: time.Duration(c.DelayMS * float64(time.Millisecond)),
		Events: func(e device.Event) { tell(events, soundEvent(e)) },
	})
}

func soundEvent(e device.Event) guide.DeviceEvent {
	out := guide.DeviceEvent{Device: "sound", State: string(e.Kind), Detail: e.Detail}
	switch e.Kind {
	case device.Lost, device.Hung:
		out.Code, out.On = "sound-lost", true
	case device.Back:
		out.Code = "sound-lost"
	case device.NoMic:
		return deaf(errors.New(e.Detail))
	case device.UnderRun:
		out.Detail = fmt.Sprintf("%d under-runs so far", e.Count)
	}
	return out
}

// virtualSettings makes the settings agree with the virtual telescope.
func virtualSettings(c config.Config, n virtual.Night) config.Config {
	t := n.Telescope
	c.Telescope = config.Telescope{ApertureMM: t.Aperture, FocalLengthMM: t.FocalLength, SecondaryMM: t.Secondary, SecondaryDistanceMM: t.SecondaryDistance}
	c.Camera.PixelUM, c.Camera.Barlow, c.Camera.CentrePX = n.Camera.Pixel*1000, 1, nil
	c.MirrorCell = config.MirrorCell{ScrewPitchMM: n.Cell.Pitch, ScrewCircleRadiusMM: n.Cell.BoltRadius, Kind: n.Cell.Kind, Locks: n.Cell.Locks}
	for _, k := range n.Cell.Knobs {
		c.MirrorCell.Knobs = append(c.MirrorCell.Knobs, config.Knob{Name: k.Name, Clock: k.Clock})
	}
	return c
}
