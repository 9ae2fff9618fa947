package indi

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"
	"time"

	"halocue/internal/plain"
)

// Kind is a kind of device.
type Kind struct {
	Bits int    // of the interface
	Noun string // "camera"
}

// The kinds that halocue uses.
var (
	Cameras    = Kind{ccdBit, "camera"}
	Telescopes = Kind{telescopeBit, "mount"}
	Focusers   = Kind{focuserBit, "focuser"}
)

// Device is one connected device of a server.
type Device struct {
	*Client
	Name string
	ours bool // we connected it, so we disconnect it
}

// OpenDevice opens indi://HOST[:PORT]/DEVICE; without DEVICE it takes the only one
// of its kind. The device is connected where nobody has done that, and is open once
// it has defined all the properties.
func OpenDevice(ctx context.Context, spec string, kind Kind, properties ...string) (*Device, error) {
	address, err := url.Parse(spec)
	if err != nil || address.Scheme != "indi" || address.Host == "" {
		return nil, fmt.Errorf("reading the address %q: it names no server; write indi://HOST/%s", spec, strings.ToUpper(kind.Noun))
	}
	ctx, stop := context.WithTimeout(ctx, 30*time.Second)
	defer stop()
	client, err := Dial(ctx, address.Host)
	if err == nil {
		d := &Device{Client: client}
		if err = d.open(ctx, strings.Trim(address.Path, "/"), kind, properties); err == nil {
			return d, nil
		}
		d.Release()
	}
	return nil, fmt.Errorf("opening the %s: %w", kind.Noun, err)
}

func (d *Device) open(ctx context.Context, name string, kind Kind, properties []string) error {
	if err := d.find(ctx, name, kind); err != nil {
		return err
	}
	d.keepOnly(d.Name)
	return d.connect(ctx, properties)
}

func (d *Device) find(ctx context.Context, name string, kind Kind) error {
	d.Name = name
	err := d.Wait(ctx, func() bool {
		if name == "" {
			return len(d.Devices(kind.Bits)) > 0
		}
		_, ok := d.Get(name, "CONNECTION")
		return ok
	})
	there := d.Devices(kind.Bits)
	titles := make([]string, min(len(there), 20))
	for i := range titles {
		titles[i] = title(there[i])
	}
	switch {
	case errors.Is(err, context.DeadlineExceeded) && name == "":
		return fmt.Errorf("the INDI server has no %s; start its driver", kind.Noun)
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("the INDI server has no device %q; its %ss: %s", name, kind.Noun, strings.Join(titles, ", "))
	case err != nil:
		return err
	case name == "" && len(there) > 1:
		return fmt.Errorf("the INDI server has several %ss; write one after the address: /%s", kind.Noun, strings.Join(titles, " or /"))
	case name == "":
		d.Name = there[0]
	}
	return nil
}

func (d *Device) connect(ctx context.Context, properties []string) error {
	if !d.Connected() {
		d.ours = true
		if err := d.SetSwitch(d.Name, "CONNECTION", "CONNECT"); err != nil {
			return err
		}
	}
	refused, missing := false, ""
	err := d.Wait(ctx, func() bool {
		p, _ := d.Get(d.Name, "CONNECTION")
		if refused = p.State == Alert; refused {
			return true
		}
		missing = ""
		for _, name := range properties {
			if _, ok := d.Get(d.Name, name); !ok {
				missing = name
			}
		}
		return d.Connected() && missing == ""
	})
	switch {
	case refused, errors.Is(err, context.DeadlineExceeded) && !d.Connected():
		return fmt.Errorf("the INDI driver cannot reach %s (%s); check its cable and power", d.Title(), d.Message(d.Name))
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("%s has no %s, which halocue needs; use another driver", d.Title(), missing)
	}
	return err
}

// Title is the device's name as it may be printed and spoken.
func (d *Device) Title() string { return title(d.Name) }

func title(name string) string { return plain.Text(name, 60) }

// Connected reports whether the driver has its device.
func (d *Device) Connected() bool {
	p, ok := d.Get(d.Name, "CONNECTION")
	return ok && p.Elements["CONNECT"].On
}

// Release leaves the device as it was found, and the server. The connection may be
// gone, with nobody left to tell: so errors end here.
func (d *Device) Release() {
	if d.ours {
		_ = d.SetSwitch(d.Name, "CONNECTION", "DISCONNECT")
		// Whoever opens it next must not find it still connected.
		ctx, cancel := context.WithTimeout(context.Background(), 500*time.Millisecond)
		defer cancel()
		_ = d.Wait(ctx, func() bool { return !d.Connected() })
	}
	_ = d.Close()
}
