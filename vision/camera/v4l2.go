package camera

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"syscall"
	"unsafe"

	"halocue/internal/plain"
)

// capability is struct v4l2_capability of Linux's videodev2.h, as VIDIOC_QUERYCAP
// fills it.
type capability struct {
	driver       [16]byte
	card         [32]byte
	busInfo      [32]byte
	version      uint32
	capabilities uint32
	deviceCaps   uint32
	reserved     [3]uint32
}

const (
	vidiocQueryCap   = 0x80685600 // _IOR('V', 0, struct v4l2_capability)
	capVideoCapture  = 0x00000001
	capDeviceCaps    = 0x80000000
	errNotACamera    = syscall.ENOTTY
	groupVideoRemedy = "add yourself to the group video and log in again"
)

// cameraName asks the device for its name. ENOTTY means that it is no camera.
func cameraName(path string) (string, error) {
	file, err := os.OpenFile(path, os.O_RDWR|syscall.O_NONBLOCK, 0)
	if err != nil {
		return "", err
	}
	defer file.Close()
	var c capability
	if err := ioctl(file, vidiocQueryCap, unsafe.Pointer(&c)); err != nil {
		return "", err
	}
	caps := c.capabilities
	if caps&capDeviceCaps != 0 {
		caps = c.deviceCaps // of this node; USB cameras have further ones without pictures
	}
	if caps&capVideoCapture == 0 {
		return "", errNotACamera
	}
	name, _, _ := bytes.Cut(c.card[:], []byte{0})
	return string(name), nil
}

// ioctl calls the driver; arg must point to what request expects.
func ioctl(file *os.File, request uintptr, arg unsafe.Pointer) error {
	conn, err := file.SyscallConn()
	if err != nil {
		return err
	}
	var errno syscall.Errno
	if err := conn.Control(func(fd uintptr) {
		for {
			_, _, errno = syscall.Syscall(syscall.SYS_IOCTL, fd, request, uintptr(arg))
			if errno != syscall.EINTR {
				return
			}
		}
	}); err != nil {
		return err
	}
	if errno != 0 {
		return errno
	}
	return nil
}

// checkDevice says in words why path cannot be a camera.
func checkDevice(path string) error {
	_, err := cameraName(path)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("opening the camera: there is no %s; %s", path, present())
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("opening the camera: %w; %s", err, groupVideoRemedy)
	case errors.Is(err, errNotACamera), errors.Is(err, syscall.EINVAL):
		return fmt.Errorf("opening the camera: %s is not a camera; %s", path, present())
	}
	return fmt.Errorf("opening the camera: %w; check its cable, and that no other program uses it", err)
}

// Found is a camera that is connected.
type Found struct {
	Source string `json:"source"` // what Open takes: a number
	Name   string `json:"name"`   // as its driver has it
}

// List returns the cameras that are connected, by number. Nothing is opened that another
// program uses.
func List() (all []Found) {
	for _, path := range videoNodes() {
		source := strings.TrimPrefix(path, "/dev/video")
		if name, err := cameraName(path); err == nil && number.MatchString(source) {
			all = append(all, Found{source, plain.Text(name, 60)})
		}
	}
	slices.SortFunc(all, func(a, b Found) int {
		return cmp.Or(cmp.Compare(len(a.Source), len(b.Source)), cmp.Compare(a.Source, b.Source))
	})
	return all
}

// present says which cameras there are.
func present() string {
	var cameras []string
	for _, c := range List() {
		cameras = append(cameras, "/dev/video"+c.Source+" ("+c.Name+")")
	}
	if len(cameras) == 0 {
		return "no camera is connected: plug it in"
	}
	return "choose one of " + strings.Join(cameras, ", ")
}
