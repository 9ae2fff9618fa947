package camera

import (
	"context"
	"path/filepath"
	"strings"

	"halocue/vision"
)

// KeepOptions say how Keep deals with a camera that is not there.
type KeepOptions struct {
	// Wait says that a camera which cannot be opened at first is waited for. Otherwise
	// that is an error.
	Wait bool

	// Event is called when the camera goes and comes; see vision.ReopenOptions.
	Event func(vision.DeviceState, error)
}

// Keep opens a source as Open does, and opens it again each time it goes away:
// a device, even where it comes back under another number, a network camera, an
// INDI camera, a live pipeline. What cannot go away, and everything by the frame
// clock, is as Open gives it.
func Keep(ctx context.Context, spec string, o Options, k KeepOptions) (vision.Source, error) {
	if o.Frames || !goesAway(spec) {
		return Open(ctx, spec, o)
	}
	f := &finder{spec: spec, name: cameraName, nodes: videoNodes}
	again := func(ctx context.Context) (vision.Source, error) { return Open(ctx, f.find(), o) }
	first, err := again(ctx)
	if err != nil && !k.Wait {
		return nil, err
	}
	if err != nil {
		first = nil // the first attempt reports it again
	}
	return vision.Reopen(first, again, vision.ReopenOptions{Event: k.Event, Now: o.Now}), nil
}

func goesAway(spec string) bool {
	return number.MatchString(spec) || strings.HasPrefix(spec, "/dev/") || startsLive.MatchString(spec) ||
		strings.HasPrefix(spec, "http://") || strings.HasPrefix(spec, "https://") || strings.HasPrefix(spec, "indi://")
}

// finder finds a V4L2 camera by its name where it is no longer at its node: the
// kernel gives a camera that is plugged in again the next free number, as long as
// somebody still holds the old one.
type finder struct {
	spec  string
	known string // the camera's name, once seen
	name  func(path string) (string, error)
	nodes func() []string
}

// find is the source to open now.
func (f *finder) find() string {
	path := f.spec
	if number.MatchString(path) {
		path = "/dev/video" + path
	}
	if !strings.HasPrefix(path, "/dev/") {
		return f.spec
	}
	name, err := f.name(path)
	if err == nil && (f.known == "" || name == f.known) {
		f.known = name
		return path
	}
	if f.known != "" {
		for _, node := range f.nodes() {
			if name, err := f.name(node); err == nil && name == f.known {
				return node
			}
		}
	}
	return path
}

func videoNodes() []string {
	paths, _ := filepath.Glob("/dev/video*") // the pattern is right
	return paths
}
