package faults

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"halocue/internal/run"
	"halocue/internal/simulate/telescope"
	"halocue/prompts/voice"
	"halocue/vision"
	"halocue/vision/camera"
	_ "halocue/vision/camera/opencv" // for the video, in this program
	"halocue/vision/frame"
	"halocue/vision/ring"
)

// throughLooks guides the night without pixels.
func (n *session) throughLooks(ctx context.Context, p run.Parts, sky telescope.Night) (run.Outcome, telescope.Truth, error) {
	tel := telescope.New(sky)
	s := &scope{tel: tel, hands: telescope.NewHands(tel), faults: n.faults, chance: n.chance, seconds: longestNight, night: n}
	p.Meter, p.Hands = s, s.hands.Hear
	again := func(context.Context) (vision.Source, error) { return &tube{scope: s}, nil }
	base := time.Unix(0, 0)
	src := vision.Reopen(nil, again, vision.ReopenOptions{
		Wait: time.Millisecond, Now: func() time.Time { return base.Add(time.Duration(s.t() * float64(time.Second))) },
	})
	p.Source = src
	out, err := run.Frames(ctx, p, soakFPS)
	return out, tel.Truth(), errors.Join(err, src.Close())
}

// throughPixels guides the night by pictures: JPEG after JPEG through a pipe, as a
// camera tool sends them. The words are spoken by a real engine, whose place another
// takes now and then. In the end OpenCV reads a video.
func (n *session) throughPixels(ctx context.Context, p run.Parts, sky telescope.Night) (run.Outcome, telescope.Truth, error) {
	var none run.Outcome
	src := telescope.NewSource(sky, telescope.SourceOptions{FPS: soakFPS, Closed: io.EOF})
	pipe, into := io.Pipe()
	sent := make(chan error, 1)
	go func() { sent <- n.send(ctx, src, into) }()
	cam, err := camera.Open(ctx, "-", camera.Options{Frames: true, FPS: soakFPS, Stdin: pipe})
	if err != nil {
		return none, src.Truth(), err
	}
	v, err := voice.New(voice.Config{Engine: "command", Command: strings.Fields("false"), Language: "en", WPM: 300, Report: func(error) {}})
	if err != nil {
		return none, src.Truth(), err
	}
	p.Speech = voice.NewSpeaker(v)
	p.Source, p.Hands = cam, src.Hear
	p.Meter = ring.NewMeter(ring.Config{Telescope: sky.Telescope, PixelMM: sky.Camera.Pixel})
	out, err := run.Frames(ctx, p, soakFPS)
	truth := src.Truth()
	err = errors.Join(err, pipe.Close(), src.Close(), cam.Close())
	if e := <-sent; !errors.Is(e, io.ErrClosedPipe) {
		err = errors.Join(err, e)
	}
	return out, truth, errors.Join(err, watch(ctx, n.video))
}

// send writes the frames of a night, with their faults, into the pipe until it is closed.
func (n *session) send(ctx context.Context, src *telescope.Source, into *io.PipeWriter) error {
	defer into.Close()
	for {
		f, err := src.Next(ctx)
		if err != nil {
			return err
		}
		t := f.T.Seconds()
		if t >= longestNight {
			return nil
		}
		n.spoil(f, t)
		picture := jpegOf(f)
		if now(n.faults, "damaged", t) != nil || now(n.faults, "unplugged", t) != nil {
			picture = damage(picture)
		}
		if _, err := into.Write(picture); err != nil {
			return err
		}
	}
}

// spoil applies the faults to the picture.
func (n *session) spoil(f *frame.Frame, t float64) {
	at := func(kind string) *fault { return now(n.faults, kind, t) }
	if x := at("dew"); x != nil {
		part := (t - x.from) / (x.to - x.from) * x.size
		blur(f, int(8*part))
		dim(f, 1-0.8*part)
	}
	if d := at("cloud").depth(t); d > 0 {
		dim(f, 1-0.99*d)
	}
	if x := at("exposure"); x != nil {
		dim(f, math.Exp(6*(x.size-0.5)))
	}
	if d := at("gone").depth(t); d > 0 {
		shift(f, int(float64(f.Width)*d))
	}
	if x := at("crossing"); x != nil {
		another(f, float64(f.Width)*(t-x.from)/(x.to-x.from), 200, 50, 0.5)
	}
	if at("second star") != nil {
		another(f, float64(f.Width)*0.6, float64(f.Height)/2, 50, 0.25)
	}
	if at("flood") != nil {
		for i := range f.Pix {
			f.Pix[i] = f.White
		}
	}
}

// watch has OpenCV read a video to its end.
func watch(ctx context.Context, video string) error {
	src, err := camera.Open(ctx, video, camera.Options{Frames: true})
	if err != nil {
		return err
	}
	defer src.Close()
	for i := 0; ; i++ {
		switch _, err := src.Next(ctx); {
		case errors.Is(err, io.EOF) && i > 0:
			return src.Close()
		case err != nil:
			return fmt.Errorf("frame %d of the video: %w", i, err)
		}
	}
}
