package camera

import (
	"fmt"
	"os"
	"unsafe"

	"halocue/vision/camera/exposure"
)

// Control numbers and requests of Linux's videodev2.h and v4l2-controls.h; a test compares
// them with the header. The library go4vl does not serve: what it returns of a control
// leaves out the driver's flags, whether it is switched off or read-only, and it needs C.
const (
	vidiocGetCtrl   = 0xC008561B // _IOWR('V', 27, struct v4l2_control)
	vidiocSetCtrl   = 0xC008561C // _IOWR('V', 28, struct v4l2_control)
	vidiocQueryCtrl = 0xC0445624 // _IOWR('V', 36, struct v4l2_queryctrl)

	cidGain         = 0x00980913
	cidAutoGain     = 0x00980912
	cidAutoWhite    = 0x0098090C
	cidBacklight    = 0x0098091C
	cidExposureAuto = 0x009A0901
	cidExposure     = 0x009A0902 // in units of 100 us

	exposureManual = 1

	ctrlDisabled = 0x0001
	ctrlReadOnly = 0x0004
)

const exposureUnit = 100e-6 // s

// queryCtrl is struct v4l2_queryctrl.
type queryCtrl struct {
	id, kind       uint32
	name           [32]byte
	min, max, step int32
	byDefault      int32
	flags          uint32
	reserved       [2]uint32
}

// controls are a driver's settings.
type controls interface {
	query(id uint32) (queryCtrl, error)
	get(id uint32) (int32, error)
	put(id uint32, value int32) error
}

// videoControls are those of an open device.
type videoControls struct{ *os.File }

func (v videoControls) query(id uint32) (queryCtrl, error) {
	q := queryCtrl{id: id}
	err := ioctl(v.File, vidiocQueryCtrl, unsafe.Pointer(&q))
	return q, err
}

func (v videoControls) get(id uint32) (int32, error) {
	c := [2]uint32{id, 0}
	err := ioctl(v.File, vidiocGetCtrl, unsafe.Pointer(&c))
	return int32(c[1]), err
}

func (v videoControls) put(id uint32, value int32) error {
	c := [2]uint32{id, uint32(value)}
	return ioctl(v.File, vidiocSetCtrl, unsafe.Pointer(&c))
}

// manual is a V4L2 camera with its own automatics off: they know nothing of
// rings, and chase the night sky.
type manual struct {
	controls
	before map[uint32]int32 // what was changed, to put back
	order  []uint32
}

// limits switches the camera's automatics off and reads the ranges.
func (m *manual) limits(longest float64) (exposure.Limits, exposure.Setting, error) {
	var limits exposure.Limits
	var now exposure.Setting
	// A camera has some of these; those it lacks are not on.
	for _, c := range []struct {
		id    uint32
		value int32
	}{{cidExposureAuto, exposureManual}, {cidAutoGain, 0}, {cidAutoWhite, 0}, {cidBacklight, 0}} {
		if q, err := m.query(c.id); err != nil || q.flags&(ctrlDisabled|ctrlReadOnly) != 0 {
			continue
		}
		if err := m.change(c.id, c.value); err != nil {
			return limits, now, fmt.Errorf("switching the camera's automatics off: %w; switch them off by hand", err)
		}
	}
	q, err := m.query(cidExposure)
	if err != nil || q.flags&(ctrlDisabled|ctrlReadOnly) != 0 {
		return limits, now, errNoExposure
	}
	value, err := m.get(cidExposure)
	if err != nil {
		return limits, now, fmt.Errorf("reading the exposure: %w; set it by hand", err)
	}
	limits.Seconds = exposure.Range{Min: max(1, float64(q.min)) * exposureUnit, Max: min(float64(q.max)*exposureUnit, longest)}
	now.Seconds = float64(value) * exposureUnit
	if q, err := m.query(cidGain); err == nil && q.flags&(ctrlDisabled|ctrlReadOnly) == 0 {
		if value, err := m.get(cidGain); err == nil {
			limits.Gain = exposure.Range{Min: float64(q.min), Max: float64(q.max)}
			now.Gain = float64(value)
		}
	}
	return limits, now, nil
}

// set tells the camera the exposure, and the gain where it has one.
func (m *manual) set(s exposure.Setting) error {
	if err := m.change(cidExposure, int32(s.Seconds/exposureUnit+0.5)); err != nil {
		return fmt.Errorf("setting the exposure: %w; set it by hand", err)
	}
	if _, err := m.query(cidGain); err != nil {
		return nil // it has none
	}
	if err := m.change(cidGain, int32(s.Gain+0.5)); err != nil {
		return fmt.Errorf("setting the gain: %w; set it by hand", err)
	}
	return nil
}

// change remembers what was there before.
func (m *manual) change(id uint32, value int32) error {
	old, err := m.get(id)
	if err != nil {
		return err
	}
	if old == value {
		return nil
	}
	if _, ok := m.before[id]; !ok {
		m.before[id] = old
		m.order = append(m.order, id)
	}
	return m.put(id, value)
}

// restore puts everything back, last things first: exposure can be set only
// while its automatic is off. A camera that is gone has nothing to put back.
func (m *manual) restore() {
	for i := len(m.order) - 1; i >= 0; i-- {
		_ = m.put(m.order[i], m.before[m.order[i]])
	}
}
