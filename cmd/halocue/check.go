package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/sys/unix"

	"halocue/audio"
	"halocue/config"
	"halocue/internal/guide"
	"halocue/internal/journal"
	"halocue/internal/virtual"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision"
	"halocue/vision/camera"
	"halocue/vision/ring"
)

func newCheckCommand(a *app) *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Try settings, camera, sound, voice, disk and clock, and say how they are",
		Long: `Tries settings, camera, sound, voice, disk and clock in turn. Each is one line,
printed and spoken: fine, or what is wrong and what to do about it. The status is
1 if something is wrong without which no night can be.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			k := &checking{app: a, journal: path, now: time.Now()}
			if k.c, k.err = a.settings(cmd); k.err == nil {
				if _, isVirtual, _ := virtualSeed(k.c.Camera.Source); isVirtual {
					k.c = virtualSettings(k.c, virtual.Demo(0))
				}
				k.err = k.c.Validate()
			}
			return k.run(cmd.Context())
		},
	}
	settingFlags(cmd, "telescope", "camera", "mirror_cell", "sound", "voice", "drive")
	cmd.Flags().StringVar(&path, "journal", "", "`FILE` of the journal, if it is not in its usual place, or none")
	return cmd
}

// checking is a check under way.
type checking struct {
	*app
	c       config.Config
	err     error // what is wrong with the settings
	journal string
	now     time.Time

	language string // of what is said; "" is English

	desk    *audio.Desk
	sink    audio.Sink
	voice   voice.Voice
	unheard error // why the voice is not heard, the first reason
}

// errCheck ends a check in which something needed has failed.
var errCheck = errors.New("this does not work yet; mend what is said above, then check again")

const (
	cameraWait = 10 * time.Second // for the first frame
	cameraTry  = 10               // frames may be damaged before one is whole
	diskRoom   = 100 << 20        // bytes: twenty hours, at 1.4 kB a second (three nights of guide --camera virtual:N --clock frames --journal FILE)
	clockSince = 2025             // no halocue is older
)

// run does each check in turn. The sound is opened first, to speak all of it.
func (k *checking) run(ctx context.Context) error {
	sound := k.openSound(ctx)
	defer k.sink.Close()
	failed := false
	for _, part := range []struct {
		name   string
		needed bool
		try    func(context.Context) (string, error)
	}{
		{"Settings", true, k.trySettings},
		{"Camera", true, k.tryCamera},
		{"Sound", true, func(context.Context) (string, error) { return "The output is " + k.c.Sound.Output, sound }},
		{"Voice", true, k.tryVoice},
		{"Disk", false, k.tryDisk},
		{"Clock", false, k.tryClock},
		{"Motors", false, k.tryMotors},
	} {
		if part.name == "Motors" && k.c.Drive.Mount+k.c.Drive.Focuser == "" {
			continue
		}
		fine, err := part.try(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		line := fmt.Sprintf("%s: fine. %s.", part.name, fine)
		if err != nil {
			line = fmt.Sprintf("%s: %s.", part.name, strings.ReplaceAll(err.Error(), "\n", "; "))
			failed = failed || part.needed
		}
		if _, err := fmt.Fprintln(k.stdout, line); err != nil {
			return err
		}
		if err := k.say(ctx, line); err != nil {
			return err
		}
	}
	if failed {
		return errCheck
	}
	return nil
}

// openSound opens the sound and the voice of the settings, or what works without
// any, so that the check goes on.
func (k *checking) openSound(ctx context.Context) error {
	if k.c.Sound.Output == "" { // settings that could not be read
		k.c.Sound, k.c.Voice = config.Default().Sound, config.Default().Voice
	}
	events := make(chan guide.DeviceEvent, 64)
	desk, err := newDesk(k.c.Sound)
	if err == nil {
		k.desk = desk
		k.sink, err = openSink(ctx, k.c.Sound, k.desk, events)
	}
	if err != nil {
		k.desk = audio.NewDesk(audio.Settings{})
		k.sink = audio.NewNull(k.desk)
	}
	spoken := k.c.Voice
	spoken.Language = cmp.Or(k.language, "en")
	if k.voice, k.unheard = newVoice(spoken, events); k.unheard != nil {
		k.voice = voice.Silent{WPM: config.Default().Voice.SpeedWPM}
	}
	return err
}

func (k *checking) trySettings(context.Context) (string, error) {
	if k.err != nil {
		return "", k.err
	}
	if k.c.File == "" {
		return "There is no file, the built-in ones are used", nil
	}
	return "They are in " + k.c.File, nil
}

// tryCamera waits for one whole frame, and tells what is in it.
func (k *checking) tryCamera(ctx context.Context) (string, error) {
	if k.c.Camera.Source == "" {
		return "", errors.New("not tried, for its settings could not be read; mend them first")
	}
	if _, isVirtual, err := virtualSeed(k.c.Camera.Source); isVirtual || err != nil {
		return "The virtual telescope needs none", err
	}
	ctx, cancel := context.WithTimeout(ctx, cameraWait)
	defer cancel()
	src, err := camera.Open(ctx, k.c.Camera.Source, camera.Options{Stdin: k.stdin, Patience: cameraWait})
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
		m := newMeter(k.c).Track(f)
		size := fmt.Sprintf("%d by %d pixels, ", f.Width, f.Height)
		switch {
		case m.Found:
			return size + "and a ring is seen", nil
		case m.Why == ring.TooBright:
			return "", errors.New("danger, far too bright; never the Sun: turn the telescope away and cover it")
		}
		return size + "no ring in it yet", nil
	}
	return "", fmt.Errorf("%d frames one after the other were damaged; check its cable, or give it a port of its own", cameraTry)
}

// tryVoice has the engine of the settings speak in its own language.
func (k *checking) tryVoice(ctx context.Context) (string, error) {
	if k.c.Voice.Engine == "none" {
		return "None is wanted", nil
	}
	failure := k.unheard
	w := k.c.Voice
	v, err := voice.New(voice.Config{
		Engine: w.Engine, Command: strings.Fields(w.Command), Language: w.Language, WPM: w.SpeedWPM,
		Report: func(err error) { failure = errors.Join(failure, err) },
	})
	if err != nil {
		return "", err
	}
	p, err := newPhrases(w)
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
	return w.Engine + " speaks", failure
}

// tryDisk writes where the journal is kept, and reads the journal that there is.
func (k *checking) tryDisk(ctx context.Context) (string, error) {
	path := k.journal
	switch path {
	case "none":
		return "No journal is wanted", nil
	case "":
		path = journalPath(k.env)
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
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return "", fmt.Errorf("asking how full the disk of %s is: %w; %s", dir, err, remedy)
	}
	room := s.Bavail * uint64(s.Bsize)
	if room < diskRoom {
		return "", fmt.Errorf("only %d megabytes are free in %s; delete something", room>>20, dir)
	}
	j, err := journal.Read(path)
	if errors.Is(err, journal.ErrNone) {
		return fmt.Sprintf("%d megabytes are free, the journal will be new", room>>20), nil
	}
	if err != nil {
		return "", err
	}
	if err := errors.Join(j.Check(ctx), j.Close()); err != nil {
		return "", err
	}
	return fmt.Sprintf("%d megabytes are free, the journal is whole", room>>20), nil
}

// tryClock asks only whether a clock that forgets was set since it was switched on.
func (k *checking) tryClock(context.Context) (string, error) {
	if k.now.Year() < clockSince {
		return "", fmt.Errorf("it says %d, so the journal will be wrong about the date; set it with date, or connect to a network once", k.now.Year())
	}
	return k.now.Format("2 January 2006, 15:04"), nil
}

// say speaks a line to its end.
func (k *checking) say(ctx context.Context, line string) error {
	clip, err := voice.NewSpeaker(k.voice).Clip(ctx, line)
	if err != nil {
		return fmt.Errorf("saying %q: %w", line, err)
	}
	k.desk.Say(clip)
	seconds := clip.Seconds() + k.sink.Delay()
	if err := k.sink.Advance(seconds); err != nil {
		return err
	}
	if silent(k.sink) {
		return nil
	}
	select {
	case <-time.After(time.Duration(seconds * float64(time.Second))):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// silent tells a sink without a clock: it has said all once it was advanced.
func silent(s audio.Sink) bool {
	switch s.(type) {
	case *audio.Null, *audio.File:
		return true
	}
	return false
}
