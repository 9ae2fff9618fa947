package camera

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"halocue/vision/camera/exposure"
	"halocue/vision/frame"
)

// The numbers are those of the kernel's own headers, asked through the C compiler.
func TestNumbersOfVideodev2(t *testing.T) {
	names := []string{"VIDIOC_QUERYCAP", "VIDIOC_G_CTRL", "VIDIOC_S_CTRL", "VIDIOC_QUERYCTRL", "V4L2_CAP_VIDEO_CAPTURE", "V4L2_CAP_DEVICE_CAPS",
		"V4L2_CID_GAIN", "V4L2_CID_AUTOGAIN", "V4L2_CID_AUTO_WHITE_BALANCE", "V4L2_CID_BACKLIGHT_COMPENSATION", "V4L2_CID_EXPOSURE_AUTO",
		"V4L2_CID_EXPOSURE_ABSOLUTE", "V4L2_EXPOSURE_MANUAL", "V4L2_CTRL_FLAG_DISABLED", "V4L2_CTRL_FLAG_READ_ONLY",
		"sizeof(struct v4l2_capability)", "sizeof(struct v4l2_queryctrl)", "offsetof(struct v4l2_capability, device_caps)", "offsetof(struct v4l2_queryctrl, flags)"}
	ours := []uint64{vidiocQueryCap, vidiocGetCtrl, vidiocSetCtrl, vidiocQueryCtrl, capVideoCapture, capDeviceCaps,
		cidGain, cidAutoGain, cidAutoWhite, cidBacklight, cidExposureAuto, cidExposure, exposureManual, ctrlDisabled, ctrlReadOnly,
		uint64(unsafe.Sizeof(capability{})), uint64(unsafe.Sizeof(queryCtrl{})), uint64(unsafe.Offsetof(capability{}.deviceCaps)), uint64(unsafe.Offsetof(queryCtrl{}.flags))}
	var c strings.Builder
	c.WriteString("#include <stdio.h>\n#include <stddef.h>\n#include <linux/videodev2.h>\nint main(void) {\n")
	for _, n := range names {
		fmt.Fprintf(&c, "printf(\"%%llu\\n\", (unsigned long long)(%s));\n", n)
	}
	c.WriteString("}\n")
	bin := filepath.Join(t.TempDir(), "numbers")
	run(t, "cc", "-o", bin, write(t, "numbers.c", []byte(c.String())))
	for i, line := range strings.Fields(string(run(t, bin))) {
		if want := fmt.Sprint(ours[i]); line != want {
			t.Errorf("%s is %s, ours %s", names[i], line, want)
		}
	}
}

// fakeControls is a driver: it knows some controls and refuses what is out of range,
// and exposure while its automatic is on, as USB cameras do.
type fakeControls struct {
	values map[uint32]int32
	ranges map[uint32][2]int32
	log    []string
}

func webcam() *fakeControls {
	return &fakeControls{
		values: map[uint32]int32{cidExposureAuto: 3, cidExposure: 156, cidGain: 64, cidAutoWhite: 1},
		ranges: map[uint32][2]int32{cidExposureAuto: {0, 3}, cidExposure: {3, 2047}, cidGain: {0, 255}, cidAutoWhite: {0, 1}},
	}
}

func (f *fakeControls) query(id uint32) (queryCtrl, error) {
	r, ok := f.ranges[id]
	if !ok {
		return queryCtrl{}, syscall.EINVAL
	}
	return queryCtrl{id: id, min: r[0], max: r[1]}, nil
}

func (f *fakeControls) get(id uint32) (int32, error) {
	v, ok := f.values[id]
	if !ok {
		return 0, syscall.EINVAL
	}
	return v, nil
}

func (f *fakeControls) put(id uint32, v int32) error {
	r, ok := f.ranges[id]
	switch {
	case !ok || v < r[0] || v > r[1]:
		return syscall.ERANGE
	case id == cidExposure && f.values[cidExposureAuto] != exposureManual:
		return syscall.EACCES
	}
	f.values[id] = v
	f.log = append(f.log, fmt.Sprintf("%x=%d", id, v))
	return nil
}

func TestExposureIsSetAndPutBack(t *testing.T) {
	driver := webcam()
	before := fmt.Sprint(driver.values)
	m := &manual{controls: driver, before: map[uint32]int32{}}
	limits, now, err := m.limits(longestVideo)
	if err != nil {
		t.Fatal(err)
	}
	want := exposure.Limits{Seconds: exposure.Range{Min: 3e-4, Max: 0.1}, Gain: exposure.Range{Max: 255}}
	if fmt.Sprintf("%.4g", limits) != fmt.Sprintf("%.4g", want) || fmt.Sprintf("%.4g", now) != "{0.0156 64}" {
		t.Errorf("limits %v, now %v; want %v", limits, now, want)
	}
	if err := m.set(exposure.Setting{Seconds: 0.0021, Gain: 31.6}); err != nil {
		t.Fatal(err)
	}
	if driver.values[cidExposure] != 21 || driver.values[cidGain] != 32 || driver.values[cidExposureAuto] != exposureManual || driver.values[cidAutoWhite] != 0 {
		t.Errorf("set: %v", driver.values)
	}
	m.restore()
	if after := fmt.Sprint(driver.values); after != before {
		t.Errorf("put back: %v, was %v", after, before)
	}
}

func TestCameraWithoutExposure(t *testing.T) {
	driver := &fakeControls{values: map[uint32]int32{}, ranges: map[uint32][2]int32{}}
	var told []error
	o := Options{Exposed: func(_ exposure.Verdict, _ exposure.Setting, err error) { told = append(told, err) }}
	s := withAuto(open(t, folderOf(t, 1), Options{Frames: true}), &manual{controls: driver, before: map[uint32]int32{}}, 0.1, o)
	defer s.Close()
	brightness(t, s) // it goes on as it is
	if len(told) != 1 || !errors.Is(told[0], errNoExposure) {
		t.Errorf("told %v", told)
	}
}

// burntOut is a source of white pictures without end.
type burntOut struct{ *frame.Frame }

func (b burntOut) Next(context.Context) (*frame.Frame, error) { return b.Frame, nil }
func (b burntOut) Close() error                               { return nil }

func TestAutoExposure(t *testing.T) {
	white := burntOut{frame.New(64, 48)}
	white.White = 255
	for i := range white.Pix {
		white.Pix[i] = 255
	}
	driver := webcam()
	var told []string
	o := Options{Exposed: func(v exposure.Verdict, s exposure.Setting, err error) {
		told = append(told, strings.TrimSpace(fmt.Sprint(v, " ", err)))
	}}
	s := withAuto(white, &manual{controls: driver, before: map[uint32]int32{}}, 0.1, o)
	for range 40 {
		brightness(t, s)
	}
	if driver.values[cidGain] != 0 || driver.values[cidExposure] >= 100 {
		t.Errorf("after 40 burnt-out frames: %v", driver.values)
	}
	driver.ranges[cidExposure] = [2]int32{1000, 2047} // from now on it refuses
	told = nil
	for range 40 {
		brightness(t, s)
	}
	if len(told) != 1 || !strings.Contains(told[0], "set it by hand") {
		t.Errorf("a camera that refuses: told %q", told)
	}
}

// Without cameras the sentence says so; the numbers of real ones are listed.
func TestNoDeviceIsNamed(t *testing.T) {
	if got := present(); got == "" {
		t.Error("nothing said")
	}
	if _, err := cameraName(os.DevNull); !errors.Is(err, errNotACamera) {
		t.Errorf("/dev/null as a camera: %v", err)
	}
}
