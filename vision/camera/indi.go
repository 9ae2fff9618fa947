package camera

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"

	"halocue/internal/platform/indi"
	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
	"halocue/vision/still"
)

// indiCamera takes one exposure after the other with a camera on an INDI server.
// Property names: INDI standard properties (libindi, "CCD" interface).
type indiCamera struct {
	*indi.Device
	ctx    context.Context
	cancel context.CancelFunc

	mu      sync.Mutex // guards what Next's caller sets while the goroutine exposes
	seconds float64    // of the next exposure
	gain    float64    // as found, to put back where touched
	touched bool
}

// openINDI opens indi://HOST[:PORT]/DEVICE. Without DEVICE it takes the only camera.
func openINDI(ctx context.Context, spec string, o Options) (vision.Source, error) {
	device, err := indi.OpenDevice(ctx, spec, indi.Cameras, "CCD_EXPOSURE", "CCD1")
	if err != nil {
		return nil, err
	}
	c := &indiCamera{Device: device, seconds: o.firstExposure()}
	c.ctx, c.cancel = context.WithCancel(context.Background())
	if err := c.prepare(); err != nil {
		c.release()
		return nil, fmt.Errorf("opening the camera: %w", err)
	}
	s := newSource(c, traits{name: c.Title(), live: true, remedy: "check the camera and the INDI server"}, o)
	return withAuto(s, c, longestINDI, o), nil
}

// prepare has the camera send pictures to us.
func (c *indiCamera) prepare() error {
	for property, element := range map[string]string{
		"UPLOAD_MODE":         "UPLOAD_CLIENT", // not into files on its own disk
		"CCD_FRAME_TYPE":      "FRAME_LIGHT",
		"CCD_TRANSFER_FORMAT": "FORMAT_FITS",
	} {
		if p, ok := c.Get(c.Name, property); ok && !p.Elements[element].On {
			if err := c.SetSwitch(c.Name, property, element); err != nil {
				return err
			}
		}
	}
	return c.EnableBLOBs(c.Name)
}

// read takes one exposure.
func (c *indiCamera) read(f *frame.Frame) error {
	c.Expect(c.Name, "CCD1", c.largest()) // one that came too late is not this exposure's
	limits, ok := c.Get(c.Name, "CCD_EXPOSURE")
	if !ok {
		return lost("the INDI driver of %s is gone; check the camera's cable and power", c.Title())
	}
	c.mu.Lock()
	seconds := within(limits, "CCD_EXPOSURE_VALUE", c.seconds)
	c.mu.Unlock()
	if err := c.SetNumbers(c.Name, "CCD_EXPOSURE", map[string]float64{"CCD_EXPOSURE_VALUE": seconds}); err != nil {
		return lost("%v; check the server", err)
	}
	var blob indi.BLOB
	var why error
	err := c.Wait(c.ctx, func() bool {
		var got bool
		blob, got = c.TakeBLOB(c.Name, "CCD1")
		p, defined := c.Get(c.Name, "CCD_EXPOSURE")
		switch {
		case got:
		case !defined || !c.Connected():
			why = lost("%s was disconnected; check its cable and power", c.Title())
		case p.State == indi.Alert:
			why = bad(fmt.Errorf("the exposure failed: %s", c.Message(c.Name)))
		default:
			return false
		}
		return true
	})
	switch {
	case errors.Is(err, indi.ErrGone):
		return lost("%v", err)
	case err != nil:
		return err // closed
	case why != nil:
		return why
	}
	f.Name = ""
	if err := still.DecodeInto(f, blob.Data); err != nil {
		return bad(err)
	}
	return nil
}

// largest is how many bytes a picture may have: three colours of the camera's pixels,
// where it says how many it has, and a long header.
func (c *indiCamera) largest() int {
	p, _ := c.Get(c.Name, "CCD_INFO")
	x, y, bits := p.Elements["CCD_MAX_X"].Number, p.Elements["CCD_MAX_Y"].Number, p.Elements["CCD_BITSPERPIXEL"].Number
	if !(x >= 1 && y >= 1 && bits >= 1) {
		return indi.MaxBLOB
	}
	return int(min(3*x*y*math.Ceil(bits/8)+1<<20, indi.MaxBLOB))
}

// within keeps v within the limits of a property's element.
func within(p indi.Property, element string, v float64) float64 {
	e := p.Elements[element]
	v = max(v, e.Min)
	if e.Max > e.Min {
		v = min(v, e.Max)
	}
	return v
}

// longestINDI keeps exposures short enough to guide by, s.
const longestINDI = 1.0

func (c *indiCamera) limits(longest float64) (exposure.Limits, exposure.Setting, error) {
	p, ok := c.Get(c.Name, "CCD_EXPOSURE")
	if !ok {
		return exposure.Limits{}, exposure.Setting{}, errNoExposure
	}
	e := p.Elements["CCD_EXPOSURE_VALUE"]
	limits := exposure.Limits{Seconds: exposure.Range{Min: max(e.Min, 1e-6), Max: longest}}
	if e.Max > e.Min {
		limits.Seconds.Max = min(e.Max, longest)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	now := exposure.Setting{Seconds: c.seconds}
	if p, ok := c.Get(c.Name, "CCD_GAIN"); ok {
		g := p.Elements["GAIN"]
		limits.Gain = exposure.Range{Min: g.Min, Max: g.Max}
		now.Gain, c.gain = g.Number, g.Number
	}
	return limits, now, nil
}

func (c *indiCamera) set(s exposure.Setting) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.seconds = s.Seconds
	p, ok := c.Get(c.Name, "CCD_GAIN")
	if !ok || p.Elements["GAIN"].Number == s.Gain {
		return nil
	}
	c.touched = true
	if err := c.SetNumbers(c.Name, "CCD_GAIN", map[string]float64{"GAIN": s.Gain}); err != nil {
		return fmt.Errorf("setting the gain: %w", err)
	}
	return nil
}

func (c *indiCamera) interrupt() { c.cancel() }

// release leaves the camera as it was found. The connection may be gone, with
// nobody left to tell: so errors end here.
func (c *indiCamera) release() {
	c.cancel()
	if _, ok := c.Get(c.Name, "CCD_ABORT_EXPOSURE"); ok {
		_ = c.SetSwitch(c.Name, "CCD_ABORT_EXPOSURE", "ABORT")
	}
	c.mu.Lock()
	if c.touched {
		_ = c.SetNumbers(c.Name, "CCD_GAIN", map[string]float64{"GAIN": c.gain})
	}
	c.mu.Unlock()
	c.Release()
}
