package camera

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"sync"
	"time"

	"halocue/internal/frame"
	"halocue/internal/indi"
	"halocue/vision"
	"halocue/vision/camera/exposure"
	"halocue/vision/still"
)

// indiCamera takes one exposure after the other with a camera on an INDI server.
// Property names: INDI standard properties (libindi, "CCD" interface).
type indiCamera struct {
	client *indi.Client
	device string
	ours   bool // we connected it, so we disconnect it
	ctx    context.Context
	cancel context.CancelFunc

	mu      sync.Mutex // guards what Next's caller sets while the goroutine exposes
	seconds float64    // of the next exposure
	gain    float64    // as found, to put back where touched
	touched bool
}

// openINDI opens indi://HOST[:PORT]/DEVICE. Without DEVICE it takes the only camera.
func openINDI(ctx context.Context, spec string, o Options) (vision.Source, error) {
	address, err := url.Parse(spec)
	if err != nil || address.Host == "" {
		return nil, fmt.Errorf("reading the address %q: it names no server; write indi://HOST/CAMERA", spec)
	}
	ctx, stop := context.WithTimeout(ctx, 30*time.Second)
	defer stop()
	client, err := indi.Dial(ctx, address.Host)
	if err != nil {
		return nil, fmt.Errorf("opening the camera: %w", err)
	}
	c := &indiCamera{client: client, seconds: o.firstExposure()}
	c.ctx, c.cancel = context.WithCancel(context.Background())
	if err := c.open(ctx, strings.Trim(address.Path, "/")); err != nil {
		c.release()
		return nil, fmt.Errorf("opening the camera: %w", err)
	}
	s := newSource(c, traits{name: c.device, live: true, remedy: "check the camera and the INDI server"}, o)
	return withAuto(s, c, longestINDI, o), nil
}

// open finds the camera, connects it and has it send pictures to us.
func (c *indiCamera) open(ctx context.Context, name string) error {
	if err := c.find(ctx, name); err != nil {
		return err
	}
	if err := c.connect(ctx); err != nil {
		return err
	}
	for property, element := range map[string]string{
		"UPLOAD_MODE":         "UPLOAD_CLIENT", // not into files on its own disk
		"CCD_FRAME_TYPE":      "FRAME_LIGHT",
		"CCD_TRANSFER_FORMAT": "FORMAT_FITS",
	} {
		if p, ok := c.client.Get(c.device, property); ok && !p.Elements[element].On {
			if err := c.client.SetSwitch(c.device, property, element); err != nil {
				return err
			}
		}
	}
	return c.client.EnableBLOBs(c.device)
}

func (c *indiCamera) find(ctx context.Context, name string) error {
	c.device = name
	err := c.client.Wait(ctx, func() bool {
		if name == "" {
			return len(c.client.Devices(indi.CCD)) > 0
		}
		_, ok := c.client.Get(name, "CONNECTION")
		return ok
	})
	cameras := c.client.Devices(indi.CCD)
	switch {
	case errors.Is(err, context.DeadlineExceeded) && name == "":
		return errors.New("the INDI server has no camera; start its driver")
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("the INDI server has no device %q; its cameras: %s", name, strings.Join(cameras, ", "))
	case err != nil:
		return err
	case name == "" && len(cameras) > 1:
		return fmt.Errorf("the INDI server has several cameras; write one after the address: /%s", strings.Join(cameras, " or /"))
	case name == "":
		c.device = cameras[0]
	}
	return nil
}

func (c *indiCamera) connect(ctx context.Context) error {
	if !c.connected() {
		c.ours = true
		if err := c.client.SetSwitch(c.device, "CONNECTION", "CONNECT"); err != nil {
			return err
		}
	}
	refused := false
	err := c.client.Wait(ctx, func() bool {
		p, _ := c.client.Get(c.device, "CONNECTION")
		if refused = p.State == indi.Alert; refused {
			return true
		}
		_, ready := c.client.Get(c.device, "CCD_EXPOSURE")
		_, blob := c.client.Get(c.device, "CCD1")
		return c.connected() && ready && blob
	})
	if refused || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("the INDI driver cannot reach %s (%s); check its cable and power", c.device, c.client.Message(c.device))
	}
	return err
}

func (c *indiCamera) connected() bool {
	p, ok := c.client.Get(c.device, "CONNECTION")
	return ok && p.Elements["CONNECT"].On
}

// read takes one exposure.
func (c *indiCamera) read(f *frame.Frame) error {
	c.client.TakeBLOB(c.device, "CCD1") // one that came too late is not this exposure's
	limits, ok := c.client.Get(c.device, "CCD_EXPOSURE")
	if !ok {
		return lost("the INDI driver of %s is gone; check the camera's cable and power", c.device)
	}
	c.mu.Lock()
	seconds := within(limits, "CCD_EXPOSURE_VALUE", c.seconds)
	c.mu.Unlock()
	if err := c.client.SetNumbers(c.device, "CCD_EXPOSURE", map[string]float64{"CCD_EXPOSURE_VALUE": seconds}); err != nil {
		return lost("%v; check the server", err)
	}
	var blob indi.BLOB
	var why error
	err := c.client.Wait(c.ctx, func() bool {
		var got bool
		blob, got = c.client.TakeBLOB(c.device, "CCD1")
		p, defined := c.client.Get(c.device, "CCD_EXPOSURE")
		switch {
		case got:
		case !defined || !c.connected():
			why = lost("%s was disconnected; check its cable and power", c.device)
		case p.State == indi.Alert:
			why = bad(fmt.Errorf("the exposure failed: %s", c.client.Message(c.device)))
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
	p, ok := c.client.Get(c.device, "CCD_EXPOSURE")
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
	if p, ok := c.client.Get(c.device, "CCD_GAIN"); ok {
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
	p, ok := c.client.Get(c.device, "CCD_GAIN")
	if !ok || p.Elements["GAIN"].Number == s.Gain {
		return nil
	}
	c.touched = true
	if err := c.client.SetNumbers(c.device, "CCD_GAIN", map[string]float64{"GAIN": s.Gain}); err != nil {
		return fmt.Errorf("setting the gain: %w", err)
	}
	return nil
}

func (c *indiCamera) interrupt() { c.cancel() }

// release leaves the camera as it was found. The connection may be gone, with
// nobody left to tell: so errors end here.
func (c *indiCamera) release() {
	c.cancel()
	if _, ok := c.client.Get(c.device, "CCD_ABORT_EXPOSURE"); ok {
		_ = c.client.SetSwitch(c.device, "CCD_ABORT_EXPOSURE", "ABORT")
	}
	c.mu.Lock()
	if c.touched {
		_ = c.client.SetNumbers(c.device, "CCD_GAIN", map[string]float64{"GAIN": c.gain})
	}
	c.mu.Unlock()
	if c.ours {
		_ = c.client.SetSwitch(c.device, "CONNECTION", "DISCONNECT")
		// Whoever opens it next must not find it still connected.
		ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		defer cancel()
		_ = c.client.Wait(ctx, func() bool { return !c.connected() })
	}
	_ = c.client.Close()
}
