// Package aubio is a pitch tracker from the library aubio (Debian: libaubio-dev,
// GPL-3): yin on 2048 samples. Only tests use it; nothing that is shipped links it.
package aubio

/*
#cgo pkg-config: aubio
#include <stdlib.h>
#include <aubio/aubio.h>
*/
import "C"

import (
	"fmt"
	"unsafe"
)

const (
	// Hop is the number of samples that Track takes.
	Hop    = 512
	window = 2048
	rate   = 48000
)

// Tracker follows the pitch of a 48 kHz signal. It is a listener.Tracker.
type Tracker struct {
	pitch   *C.aubio_pitch_t
	in, out *C.fvec_t
}

// New returns a tracker; Close frees it.
func New() (*Tracker, error) {
	method := C.CString("yin")
	defer C.free(unsafe.Pointer(method))
	p := C.new_aubio_pitch(method, window, Hop, rate)
	if p == nil {
		return nil, fmt.Errorf("aubio has no pitch method yin: install libaubio-dev 0.4")
	}
	C.aubio_pitch_set_silence(p, -55)
	return &Tracker{p, C.new_fvec(Hop), C.new_fvec(1)}, nil
}

// Track takes the next Hop samples and returns the pitch in Hz, 0 for none.
func (t *Tracker) Track(hop []float32) float64 {
	copy(unsafe.Slice((*float32)(unsafe.Pointer(t.in.data)), Hop), hop)
	C.aubio_pitch_do(t.pitch, t.in, t.out)
	return float64(*(*float32)(unsafe.Pointer(t.out.data)))
}

// Close frees the tracker.
func (t *Tracker) Close() {
	C.del_aubio_pitch(t.pitch)
	C.del_fvec(t.in)
	C.del_fvec(t.out)
}
