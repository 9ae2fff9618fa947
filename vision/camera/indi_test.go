package camera

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"halocue/internal/platform/indi"
	"halocue/internal/platform/indi/inditest"
	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/visiontest"
)

// The real server with its simulated camera (1280 x 1024 pixels, 16 bits) is the peer.
func TestINDICamera(t *testing.T) {
	address, _ := inditest.Server(t, inditest.FreePort(t), "indi_simulator_ccd", "indi_simulator_focus")
	spec := "indi://" + address + "/CCD Simulator"
	o := Options{Frames: true, Exposure: 20 * time.Millisecond}
	visiontest.CheckSource(t, visiontest.Case{
		Open:   func(t *testing.T) vision.Source { return open(t, spec, o) },
		Frames: 3, FPS: defaultFPS,
		Silent: func(t *testing.T) vision.Source { return open(t, spec, Options{Frames: true, Exposure: time.Hour}) },
	})
	t.Run("pictures", func(t *testing.T) {
		s := open(t, "indi://"+address, o) // the only camera needs no name
		defer s.Close()
		f, err := s.Next(t.Context())
		if err != nil || f.Width != 1280 || f.Height != 1024 || f.White != 65535 {
			t.Fatalf("%+v, %v", f, err)
		}
		// Without its star catalogue the simulator's sky is the read noise alone.
		low, high := f.Pix[0], f.Pix[0]
		for _, v := range f.Pix {
			low, high = min(low, v), max(high, v)
		}
		if !(high > low && high < 1000) {
			t.Errorf("values from %g to %g", low, high)
		}
		long := open(t, spec, Options{Exposure: time.Second})
		defer long.Close()
		start := time.Now()
		brightness(t, long)
		if took := time.Since(start); took < time.Second {
			t.Errorf("an exposure of 1 s took %v", took)
		}
	})
	t.Run("gain is set and put back", func(t *testing.T) {
		other, err := indi.Dial(t.Context(), address)
		if err != nil {
			t.Fatal(err)
		}
		defer other.Close()
		becomes := func(want float64) {
			t.Helper()
			ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
			defer cancel()
			if err := other.Wait(ctx, func() bool {
				p, ok := other.Get("CCD Simulator", "CCD_GAIN")
				return ok && p.State != indi.Busy && p.Elements["GAIN"].Number == want
			}); err != nil {
				p, _ := other.Get("CCD Simulator", "CCD_GAIN")
				t.Errorf("gain %+v, want %g: %v", p, want, err)
			}
		}
		s := open(t, spec, o)
		brightness(t, s)
		becomes(90) // the simulator's own
		c := s.(*auto).dev.(*indiCamera)
		limits, now, err := c.limits(longestINDI)
		if err != nil || limits.Gain != (exposure.Range{Max: 100}) || limits.Seconds != (exposure.Range{Min: 0.01, Max: 1}) || now.Gain != 90 {
			t.Errorf("limits %+v, now %+v, %v", limits, now, err)
		}
		if err := c.set(exposure.Setting{Seconds: 0.05, Gain: 40}); err != nil {
			t.Error(err)
		}
		becomes(40)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		again := open(t, spec, o) // closing disconnected the camera: its properties went
		defer again.Close()
		becomes(90)
	})
	t.Run("no such camera", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		_, err := Open(ctx, "indi://"+address+"/Webcam", o)
		if err == nil || !strings.Contains(err.Error(), `no device "Webcam"; its cameras: CCD Simulator`) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("disconnected by another", func(t *testing.T) {
		s := open(t, spec, o)
		defer s.Close()
		brightness(t, s)
		other, err := indi.Dial(t.Context(), address)
		if err != nil {
			t.Fatal(err)
		}
		defer other.Close()
		if err := other.SetSwitch("CCD Simulator", "CONNECTION", "DISCONNECT"); err != nil {
			t.Fatal(err)
		}
		for err == nil {
			_, err = s.Next(t.Context())
		}
		if !errors.Is(err, vision.ErrLost) || !strings.Contains(err.Error(), "; ") {
			t.Errorf("got %v", err)
		}
	})
}

// The server dies in the middle and comes back; so do the pictures.
func TestINDIReconnects(t *testing.T) {
	port := inditest.FreePort(t)
	address, stop := inditest.Server(t, port, "indi_simulator_ccd")
	o := Options{Exposure: 20 * time.Millisecond}
	var events []string
	s := vision.Reopen(nil, func(ctx context.Context) (vision.Source, error) {
		return Open(ctx, "indi://"+address+"/CCD Simulator", o)
	}, vision.ReopenOptions{Wait: 50 * time.Millisecond, Event: func(state vision.DeviceState, why error) {
		events = append(events, string(state))
		if state == vision.DeviceLost {
			inditest.Server(t, port, "indi_simulator_ccd")
		}
	}})
	defer s.Close()
	brightness(t, s)
	stop()
	for len(events) < 2 {
		brightness(t, s)
	}
	if got := strings.Join(events, " "); got != "lost back" {
		t.Errorf("told %s", got)
	}
}
