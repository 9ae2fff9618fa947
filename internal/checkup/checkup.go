// Package checkup tries settings, camera, sound, voice, disk, clock and motors, and says
// how they are.
package checkup

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"halocue/config"
	"halocue/internal/journal"
	"halocue/internal/record"
	"halocue/internal/run/aloud"
	"halocue/internal/run/parts"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision"
	"halocue/vision/camera"
	"halocue/vision/ring"
)

// Job is what is tried.
type Job struct {
	Settings config.Config
	Unfit    error  // what is wrong with the settings, or nil
	Virtual  bool   // the camera is a virtual telescope
	NoCamera error  // what is wrong with the camera's name, or nil
	Journal  string // its file, "none", or "" for the usual one
	JSON     bool   // print JSON lines, and speak nothing
}

type line struct {
	Part   string `json:"part"`
	Fine   bool   `json:"fine"`
	Needed bool   `json:"needed"` // no night can be without it
	Said   string `json:"said"`
}

// checkup is one under way.
type checkup struct {
	Job
	world *parts.World
	out   *aloud.Out
	say   parts.Say
}

// fault is what is wrong, in the language of the voice.
type fault string

func (f fault) Error() string { return string(f) }

// errCheck ends a check in which something needed has failed.
var errCheck = errors.New("this does not work yet; mend what is said above, then check again")

const (
	cameraWait = 10 * time.Second // for the first frame
	cameraTry  = 10               // frames may be damaged before one is whole
	diskRoom   = 100 << 20        // bytes: twenty hours, at 1.4 kB a second (three nights of collimate --camera virtual:N --clock frames --journal FILE)
)

// Run does each check in turn. The sound is opened first, to speak all of it.
func Run(ctx context.Context, w *parts.World, j Job) error {
	heard := j.Settings
	if j.JSON {
		heard.Voice.Engine = "none"
	}
	say, _, err := parts.Sentences(heard.Voice)
	if j.JSON || err != nil { // with an error the settings could not be read
		if say, _, err = parts.Sentences(config.Default().Voice); err != nil {
			return err
		}
	}
	out, sound := aloud.Open(ctx, heard, heard.Voice.Language)
	//lint:ignore SA5001 with an error it returns what makes no sound
	defer out.Close()
	if j.Settings.Sound.Output == "" { // settings that could not be read
		j.Settings.Sound, j.Settings.Voice = config.Default().Sound, config.Default().Voice
	}
	k := &checkup{Job: j, world: w, out: out, say: say}
	failed := false
	for _, part := range []struct {
		name   string
		needed bool
		try    func(context.Context) (string, error)
	}{
		{"settings", true, k.trySettings},
		{"camera", true, k.tryCamera},
		{"sound", true, func(context.Context) (string, error) { return k.say("check.output", k.Settings.Sound.Output), sound }},
		{"voice", true, k.tryVoice},
		{"disk", false, k.tryDisk},
		{"clock", false, k.tryClock},
		{"motors", false, k.tryMotors},
	} {
		if part.name == "motors" && k.Settings.Drive.Mount+k.Settings.Drive.Focuser == "" {
			continue
		}
		fine, err := part.try(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		name := k.say("check." + part.name)
		l := line{part.name, err == nil, part.needed, k.say("check.fine", name, fine)}
		if err != nil {
			key := "check.error" // in English
			if errors.As(err, new(fault)) {
				key = "check.wrong"
			}
			l.Said = k.say(key, name, strings.ReplaceAll(strings.TrimPrefix(err.Error(), "opening the camera: "), "\n", "; "))
			failed = failed || part.needed
		}
		if err := k.tell(ctx, l); err != nil {
			return err
		}
	}
	if failed {
		return errCheck
	}
	return nil
}

func (k *checkup) tell(ctx context.Context, l line) error {
	if k.JSON {
		return json.NewEncoder(k.world.Stdout).Encode(l)
	}
	if _, err := fmt.Fprintln(k.out.Shown(k.world, k.world.Stdout), l.Said); err != nil {
		return err
	}
	return k.out.Say(ctx, l.Said)
}

func (k *checkup) trySettings(ctx context.Context) (string, error) {
	if k.Unfit != nil {
		return "", k.Unfit
	}
	said := k.say("check.no-file")
	if k.Settings.File != "" {
		said = k.say("check.file", k.Settings.File)
	}
	for _, pair := range parts.Alike(ctx, k.Settings.Voice, k.Settings.MirrorCell.Knobs) {
		said += ". " + k.say("check.alike", pair[0], pair[1])
	}
	return said, nil
}

// tryCamera waits for one whole frame, and tells what is in it.
func (k *checkup) tryCamera(ctx context.Context) (string, error) {
	if k.Settings.Camera.Source == "" {
		return "", fault(k.say("check.untried"))
	}
	if k.Virtual || k.NoCamera != nil {
		return k.say("check.virtual"), k.NoCamera
	}
	ctx, cancel := context.WithTimeout(ctx, cameraWait)
	defer cancel()
	src, err := camera.Open(ctx, k.Settings.Camera.Source, camera.Options{Stdin: k.world.Stdin, Patience: cameraWait})
	if err != nil {
		return "", err
	}
	defer src.Close()
	for range cameraTry {
		f, err := src.Next(ctx)
		switch {
		case errors.Is(err, vision.ErrBadFrame):
			continue
		case err != nil:
			return "", fmt.Errorf("waiting for a frame: %w; check its cable, and that no other program uses it", err)
		}
		m := parts.Meter(k.Settings).Track(f)
		switch {
		case m.Found:
			return k.say("check.ring", f.Width, f.Height), nil
		case m.Why == ring.TooBright:
			return "", fault(k.say("check.flooded"))
		}
		return k.say("check.no-ring", f.Width, f.Height), nil
	}
	return "", fault(k.say("check.damaged", cameraTry))
}

// tryVoice has the engine of the settings speak in its own language.
func (k *checkup) tryVoice(ctx context.Context) (string, error) {
	if k.Settings.Voice.Engine == "none" {
		return k.say("check.no-voice"), nil
	}
	failure := k.out.NoVoice
	w := k.Settings.Voice
	w.Cache = "" // what was spoken before proves nothing
	v, err := voice.New(parts.VoiceSettings(w, func(err error) { failure = errors.Join(failure, err) }))
	if err != nil {
		return "", err
	}
	p, err := parts.Phrases(w)
	if err != nil {
		return "", err
	}
	ready, _, err := p.Text(prompts.Cue{Code: "starting"})
	if err != nil {
		return "", err
	}
	if _, err := v.Speak(ctx, ready); err != nil {
		return "", err
	}
	return k.say("check.speaks", w.Engine), failure
}

// tryDisk writes where the journal is kept, and reads the journal that there is.
func (k *checkup) tryDisk(ctx context.Context) (string, error) {
	path := k.Journal
	switch path {
	case "none":
		return k.say("check.no-journal"), nil
	case "":
		path = journal.Path(k.world.Env)
	}
	remedy := "the night goes on without a journal; choose another place with --journal"
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", fmt.Errorf("making a place for the journal: %w; %s", err, remedy)
	}
	f, err := os.CreateTemp(dir, ".check-*")
	if err != nil {
		return "", fmt.Errorf("writing beside the journal: %w; %s", err, remedy)
	}
	if err := errors.Join(f.Close(), os.Remove(f.Name())); err != nil {
		return "", fmt.Errorf("writing beside the journal: %w; %s", err, remedy)
	}
	room, err := record.Free(dir)
	if err != nil {
		return "", fmt.Errorf("asking how full the disk of %s is: %w; %s", dir, err, remedy)
	}
	if room < diskRoom {
		return "", fault(k.say("check.full", room>>20, dir))
	}
	j, err := journal.Read(path)
	if errors.Is(err, journal.ErrNone) {
		return k.say("check.new-journal", float64(room>>20)/1024), nil
	}
	if err != nil {
		return "", err
	}
	if err := errors.Join(j.Check(ctx), j.Close()); err != nil {
		return "", err
	}
	return k.say("check.journal", float64(room>>20)/1024), nil
}

// tryClock finds out whether the clock was set since the computer was switched on: a small
// one forgets the time.
func (k *checkup) tryClock(context.Context) (string, error) {
	now := k.world.Now()
	if now.Year() < parts.ClockSince {
		return "", fault(k.say("check.old-clock", now.Year()))
	}
	return now.Format(k.say("check.now")), nil
}

// tryMotors reports whether mount and focuser answer. Nothing is moved.
func (k *checkup) tryMotors(ctx context.Context) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	set, err := parts.OpenMotors(ctx, k.Settings.Drive)
	defer set.Release()
	if err != nil {
		return "", err
	}
	switch {
	case set.Focuser == nil:
		return k.say("check.mount"), nil
	case set.Mount == nil:
		return k.say("check.focuser"), nil
	}
	return k.say("check.both"), nil
}
