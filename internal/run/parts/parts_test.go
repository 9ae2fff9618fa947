package parts

import (
	"errors"
	"slices"
	"testing"

	"halocue/internal/run"
	"halocue/vision"
	"halocue/vision/camera/exposure"
)

// What was said of a camera is taken back in the same words.
func TestCameraEventsAreTakenBack(t *testing.T) {
	events := make(chan run.DeviceEvent, 8)
	tell := cameraEvents(events)
	for _, s := range []vision.DeviceState{vision.DeviceMissing, vision.DeviceBack, vision.DeviceLost, vision.DeviceBack} {
		tell(s, nil)
	}
	close(events)
	var got []string
	for e := range events {
		got = append(got, e.Code+map[bool]string{true: " on", false: " off"}[e.On])
	}
	if want := []string{"no-camera on", "no-camera off", "camera-lost on", "camera-lost off"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// A camera whose exposure cannot be set says so aloud, and one that can says nothing.
func TestExposureThatCannotBeSetIsSaid(t *testing.T) {
	events := make(chan run.DeviceEvent, 2)
	tell := exposed(events)
	tell(exposure.Changed, exposure.Setting{}, nil)
	tell("", exposure.Setting{}, errors.New("no such control; set it by hand"))
	close(events)
	if e := <-events; e.Code != "exposure-fixed" || !e.On || e.Detail != "no such control; set it by hand" {
		t.Errorf("told %+v", e)
	}
}
