package camera

import (
	"context"
	"errors"
	"io"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
	"time"

	"halocue/internal/platform/indi/inditest"
	"halocue/vision"
)

// peak is the most memory that the tests have held, MB.
func peak(t *testing.T) int64 {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return u.Maxrss >> 10
}

// endure reads from a peer for a while, as a night does, and closes. Whatever came, what
// is said of it steers nothing, and memory and the end are within bounds.
func endure(t *testing.T, address string) (bad int) {
	t.Helper()
	// What is kept is meant: on a busy machine what was dropped is collected late.
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(100 << 20))
	before := peak(t)
	ctx, cancel := context.WithTimeout(t.Context(), 1200*time.Millisecond)
	defer cancel()
	said := func(err error) {
		if err == nil || ctx.Err() != nil {
			return
		}
		if strings.ContainsAny(err.Error(), "\u009b\u202e\x1b\n") {
			t.Errorf("it says %q", err)
		}
		if !errors.Is(err, vision.ErrBadFrame) && err != io.EOF && !strings.Contains(err.Error(), "; ") {
			t.Errorf("no next step in %q", err)
		}
	}
	s, err := Keep(ctx, address, Options{}, KeepOptions{Event: func(_ vision.DeviceState, why error) { said(why) }})
	for err == nil || errors.Is(err, vision.ErrBadFrame) {
		if errors.Is(err, vision.ErrBadFrame) {
			bad++
		}
		said(err)
		_, err = s.Next(ctx)
	}
	said(err)
	if s != nil {
		start := time.Now()
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if took := time.Since(start); took > 5*time.Second {
			t.Errorf("closing took %v", took)
		}
	}
	if took := peak(t) - before; took > 150 {
		t.Errorf("it took %d MB", took)
	}
	return bad
}

func TestHostileINDI(t *testing.T) {
	for name := range inditest.Hostile() {
		t.Run(name, func(t *testing.T) {
			if bad := endure(t, "indi://"+inditest.HostileServer(t, name)+"/"); bad > 20 {
				t.Errorf("%d bad frames", bad)
			}
		})
	}
}

func TestHostileHTTP(t *testing.T) {
	good := noisy(64, 48)
	for name := range hostileHTTP {
		t.Run(name, func(t *testing.T) {
			address, asked := hostileCamera(t, name, good)
			bad := endure(t, address)
			if n := asked(); n > 15 {
				t.Errorf("it was asked %d times", n)
			}
			if bad > 20 {
				t.Errorf("%d bad frames", bad)
			}
		})
	}
}
