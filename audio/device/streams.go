package device

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gordonklaus/portaudio"

	"halocue/audio"
)

// streams is one life of PortAudio: from Initialize to Terminate.
type streams struct {
	out, in *portaudio.Stream // in is nil without a microphone
}

// result is how an opening ended.
type result struct {
	streams *streams
	latency time.Duration
	mic     bool
	micWhy  string // why there is no microphone
	err     error
}

// reopen closes the old streams, if any, and opens new ones, in a goroutine of
// its own since any step may hang.
func (c *Card) reopen(old *streams) <-chan result {
	done := make(chan result, 1)
	epoch := c.epoch.Load()
	go func() {
		old.close()
		done <- c.open(epoch)
	}()
	return done
}

// close gives PortAudio back. Errors have no remedy here: the device may be gone.
func (s *streams) close() {
	if s == nil {
		return
	}
	quietly(func() {
		for _, st := range []*portaudio.Stream{s.in, s.out} {
			if st != nil {
				_ = st.Abort() // Stop would wait for a device that has vanished
				_ = st.Close()
			}
		}
		_ = portaudio.Terminate()
	})
}

// open starts PortAudio anew: only then does it see what is plugged in.
func (c *Card) open(epoch int64) (r result) {
	quietly(func() {
		if err := portaudio.Initialize(); err != nil {
			r.err = fmt.Errorf("start the sound system: %w; %s", err, remedy)
			return
		}
		s := &streams{}
		if s.out, r.err = c.openOut(epoch); r.err != nil {
			s.close()
			return
		}
		if c.cfg.Microphone {
			var err error
			if s.in, err = c.openIn(epoch); err != nil {
				r.micWhy = err.Error()
			}
		}
		r.mic = s.in != nil
		r.latency = s.out.Info().OutputLatency
		r.streams = s
	})
	return r
}

// Outputs are the names of the devices that sound can come from, in the system's order;
// Config.Output takes one, or its number from 1.
func Outputs() (names []string, err error) {
	quietly(func() {
		if err = portaudio.Initialize(); err != nil {
			err = fmt.Errorf("start the sound system: %w; %s", err, remedy)
			return
		}
		defer func() { err = errors.Join(err, portaudio.Terminate()) }()
		var all []*portaudio.DeviceInfo
		if all, err = with(outputChannels); err == nil {
			names = namesOf(all)
		}
	})
	return names, err
}

func outputChannels(d *portaudio.DeviceInfo) int { return d.MaxOutputChannels }
func inputChannels(d *portaudio.DeviceInfo) int  { return d.MaxInputChannels }

// with returns the devices that have such channels.
func with(channels func(*portaudio.DeviceInfo) int) ([]*portaudio.DeviceInfo, error) {
	all, err := portaudio.Devices()
	return slices.DeleteFunc(slices.Clone(all), func(d *portaudio.DeviceInfo) bool { return channels(d) == 0 }), err
}

func namesOf(all []*portaudio.DeviceInfo) (names []string) {
	for _, d := range all {
		names = append(names, d.Name)
	}
	return names
}

// find picks a device by its number from 1, or by a part of its name.
func find(name string, channels func(*portaudio.DeviceInfo) int, byDefault func() (*portaudio.DeviceInfo, error)) (*portaudio.DeviceInfo, error) {
	if name == "" {
		return byDefault()
	}
	all, err := with(channels)
	if err != nil {
		return nil, err
	}
	i, err := pick(namesOf(all), name)
	if err != nil {
		return nil, err
	}
	return all[i], nil
}

// pick returns which of the names a person means.
func pick(names []string, name string) (int, error) {
	if n, err := strconv.Atoi(name); err == nil {
		if n < 1 || n > len(names) {
			return 0, fmt.Errorf("there is no number %d; halocue check --list names those there are", n)
		}
		return n - 1, nil
	}
	for i, have := range names {
		if strings.Contains(strings.ToLower(have), strings.ToLower(name)) {
			return i, nil
		}
	}
	return 0, fmt.Errorf("none is called %q; halocue check --list names those there are", name)
}

func (c *Card) openOut(epoch int64) (*portaudio.Stream, error) {
	dev, err := find(c.cfg.Output, outputChannels, portaudio.DefaultOutputDevice)
	if err != nil {
		return nil, fmt.Errorf("%w (%v): %s", ErrNoDevice, err, remedy)
	}
	p := portaudio.HighLatencyParameters(nil, dev)
	p.Output.Channels = min(2, dev.MaxOutputChannels)
	p.Output.Latency = outputLatency
	p.SampleRate = audio.Rate
	p.FramesPerBuffer = framesPerBuffer
	c.lastOut.Store(time.Now().UnixNano())
	return started(p, c.player(p.Output.Channels, epoch))
}

func (c *Card) openIn(epoch int64) (*portaudio.Stream, error) {
	dev, err := find(c.cfg.Input, inputChannels, portaudio.DefaultInputDevice)
	if err != nil {
		return nil, fmt.Errorf("no microphone: %w", err)
	}
	p := portaudio.HighLatencyParameters(dev, nil)
	p.Input.Channels = 1
	p.SampleRate = audio.MicRate
	p.FramesPerBuffer = len(audio.Frame{})
	// A microphone may take a second to begin.
	c.lastIn.Store(time.Now().Add(2 * time.Second).UnixNano())
	return started(p, c.hearer(epoch))
}

// started opens a stream and starts it.
func started(p portaudio.StreamParameters, callback any) (*portaudio.Stream, error) {
	s, err := portaudio.OpenStream(p, callback)
	if err != nil {
		return nil, fmt.Errorf("open sound device: %w; %s", err, remedy)
	}
	if err := s.Start(); err != nil {
		_ = s.Close()
		return nil, fmt.Errorf("start sound device: %w; %s", err, remedy)
	}
	return s, nil
}

// player is the output callback. It neither waits nor allocates.
func (c *Card) player(channels int, epoch int64) func([]float32, portaudio.StreamCallbackTimeInfo, portaudio.StreamCallbackFlags) {
	var buf [4 * framesPerBuffer][2]float64
	return func(out []float32, _ portaudio.StreamCallbackTimeInfo, flags portaudio.StreamCallbackFlags) {
		if c.epoch.Load() != epoch { // given up, or Close has begun
			clear(out)
			return
		}
		c.lastOut.Store(time.Now().UnixNano())
		if flags&portaudio.OutputUnderflow != 0 {
			c.underRuns.Add(1)
		}
		for len(out) > 0 {
			part := buf[:min(len(buf), len(out)/channels)]
			c.cfg.Mixer.Stream(part)
			for i, v := range part {
				for ch := range channels {
					out[i*channels+ch] = float32(v[ch])
				}
			}
			out = out[len(part)*channels:]
		}
	}
}

// hearer is the input callback.
func (c *Card) hearer(epoch int64) func([]int16) {
	var f audio.Frame
	return func(in []int16) {
		if c.epoch.Load() != epoch {
			return
		}
		c.lastIn.Store(max(c.lastIn.Load(), time.Now().UnixNano()))
		copy(f[:], in)
		select {
		case c.heard <- f:
		default:
			c.overRuns.Add(1)
		}
	}
}
