package session

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"halocue/audio"
	"halocue/config"
	"halocue/internal/record"
	"halocue/internal/run"
	"halocue/internal/run/parts"
	"halocue/prompts"
	"halocue/prompts/voice"
	"halocue/vision/camera/jpeg"
	"halocue/vision/frame"
	"halocue/vision/still"
)

// Replay runs a recorded transcript past the coach of the settings, at the rate of frames
// that the transcript's times tell.
func Replay(ctx context.Context, w *parts.World, c config.Config, transcript string, night io.ReadSeeker) error {
	then, err := record.ReadStory(night)
	if err == nil {
		_, err = night.Seek(0, io.SeekStart)
	}
	if err != nil {
		return err
	}
	s := session{Options: Options{Transcript: transcript}, world: w}
	if err := s.transcribe(); err != nil {
		return err
	}
	p := s.parts
	v, err := parts.Voice(c.Voice, make(chan run.DeviceEvent, 64))
	if err == nil {
		p.Coach, err = parts.Coach(c, then.FPS, nil, false)
	}
	if err == nil {
		p.Speech = voice.NewSpeaker(v)
		_, err = replay(ctx, p, c, night, run.Recorded{})
	}
	return errors.Join(err, s.closeFiles())
}

// replay adds the parts that every replay has.
func replay(ctx context.Context, p run.Parts, c config.Config, night io.Reader, how run.Recorded) (run.Replayed, error) {
	phrases, err := parts.Phrases(c.Voice)
	if err != nil {
		return run.Replayed{}, err
	}
	p.Narrator = prompts.NewNarrator(phrases)
	p.Mixer = audio.NewMixer(audio.Settings{})
	p.Sink = audio.NewNull(p.Mixer)
	return run.Replay(ctx, p, night, how)
}

// Again is a recorded night, as it was and as it is today.
type Again struct {
	Night     record.Night
	Then, Now record.Story
	run.Replayed
	Remarks []string // whole sentences: what of the recording is missing, damaged or unknown
}

// ReplayFolder measures and coaches a recorded night again, with its own settings. It echoes
// what is said to echo, which may be nil.
func ReplayFolder(ctx context.Context, w *parts.World, folder, transcript string, echo io.Writer) (a Again, err error) {
	var remark string
	if a.Night, remark, err = record.Read(folder); err != nil {
		return a, err
	}
	if remark != "" {
		a.Remarks = append(a.Remarks, remark)
	}
	c, unknown, err := config.FromTree(a.Night.Settings)
	if err == nil {
		err = c.Validate()
	}
	if err != nil {
		return a, fmt.Errorf("reading the settings of the recording %s: %w", folder, err)
	}
	if len(unknown) > 0 {
		a.Remarks = append(a.Remarks, fmt.Sprintf("Settings that this halocue does not know are left out: %.200s.", strings.Join(unknown, ", ")))
	}
	if a.Then, err = record.ReadStoryIn(folder); err != nil {
		return a, err
	}
	s := session{Options: Options{Transcript: transcript}, world: w}
	if err := s.transcribe(); err != nil {
		return a, err
	}
	out, now := told()
	if s.transcript != nil {
		out = io.MultiWriter(s.transcript, out)
	}
	p := run.Parts{Transcript: run.NewTranscript(out), Echo: echo, Speech: asLong(a.Then.Speech), Figure: parts.FigureMeter(c), Warn: a.Night.Warn}
	if !a.Night.Virtual {
		p.Figure.Careful(parts.Meter(c), false)
	}
	p.Meter = p.Figure
	if p.Coach, err = parts.Coach(c, a.Night.FPS, a.Night.Memory, !a.Night.Virtual); err == nil {
		var night *os.File
		if night, err = record.OpenTranscript(folder); err == nil {
			files := &recorded{folder: folder}
			a.Replayed, err = replay(ctx, p, c, night, run.Recorded{Frame: files.read, Wall: a.Night.Clock == "wall"})
			err = errors.Join(err, night.Close(), ctx.Err())
			files.jpeg.Close()
		}
	}
	var bad error
	if a.Now, bad = now(); err == nil {
		err = bad
	}
	if a.Damaged > 0 {
		a.Remarks = append(a.Remarks, fmt.Sprintf("Lines of the transcript that are damaged, as the last one where a night was cut off, are left out: %d.", a.Damaged))
	}
	if a.Missing > 0 {
		why := "left out, or thinned to save room"
		if a.Why != nil {
			why = a.Why.Error()
		}
		a.Remarks = append(a.Remarks, fmt.Sprintf("Of %d frames only what was measured that night is used: %s.", a.Missing, why))
	}
	return a, errors.Join(err, s.closeFiles())
}

// told reads a transcript while it is written: only what was said is kept of it.
func told() (transcript io.Writer, end func() (record.Story, error)) {
	r, w := io.Pipe()
	var s record.Story
	done := make(chan error, 1)
	go func() {
		var err error
		s, err = record.ReadStory(r)
		_, rest := io.Copy(io.Discard, r)
		done <- errors.Join(err, rest)
	}()
	return w, func() (record.Story, error) {
		w.Close()
		err := <-done
		return s, err
	}
}

// recorded reads the frames of a recording as the camera's decoder read them that night.
type recorded struct {
	folder string
	files  still.Reader
	jpeg   jpeg.Decoder
	frame  frame.Frame
}

func (r *recorded) read(name string) (*frame.Frame, error) {
	if !record.Pictures.MatchString(name) {
		return nil, fmt.Errorf("the transcript names %.40q, which is no frame of a recording", name)
	}
	path := filepath.Join(r.folder, name)
	info, err := os.Lstat(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil || !info.Mode().IsRegular() || info.Size() > still.MaxBytes {
		return nil, errors.Join(err, fmt.Errorf("%s is no picture", name))
	}
	if filepath.Ext(name) != ".jpg" {
		return &r.frame, r.files.ReadInto(&r.frame, path)
	}
	data, err := os.ReadFile(path)
	if err == nil {
		err = r.jpeg.Decode(&r.frame, data)
	}
	return &r.frame, err
}

// asLong is a silent voice. Each sentence takes as long as it took in the recorded night,
// and a sentence that was not said then takes as long a letter as those did.
type asLong map[string]float64

func (known asLong) Clip(_ context.Context, text string) (audio.Clip, error) {
	seconds, ok := known[text]
	if !ok {
		letters, all := 0, 0.0
		for text, s := range known {
			letters, all = letters+len(text), all+math.Round(s*1e6) // whole numbers: in any order the same
		}
		seconds = all / 1e6 / float64(max(letters, 1)) * float64(len(text))
	}
	const longest = 60 // s
	return audio.FromPCM(make([]int16, int(min(max(seconds, 0), longest)*audio.Rate+0.5))), nil
}
