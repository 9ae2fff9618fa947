// Package resample changes the rate of sound with the SoX Resampler library (libsoxr),
// once for each phrase that an engine speaks.
//
// It was the best for its cost of three libraries in Debian 12: see docs/sound.md, "From an
// engine's rate to the card's", and testdata/compare.c.
// libsoxr is also there already, since Debian's OpenCV brings it.
package resample

/*
#cgo pkg-config: soxr
#include <soxr.h>

static const char *halo_resample(const short *in, size_t n, double from, short *out, size_t most, double to, size_t *done) {
	soxr_io_spec_t io = soxr_io_spec(SOXR_INT16_I, SOXR_INT16_I);
	io.flags = SOXR_NO_DITHER; // the same words are always the same sound
	soxr_quality_spec_t quality = soxr_quality_spec(SOXR_HQ, 0);
	return soxr_oneshot(from, to, 1, in, n, NULL, out, most, done, &io, &quality, NULL);
}
*/
import "C"

import (
	"fmt"
	"unsafe"
)

// The rates that are taken, samples a second.
const (
	lowest  = 4000
	highest = 192000
)

// PCM takes 16-bit mono samples from one rate to another, lowest to highest. It lasts as
// long as before, to a sample. Where the rate stays it returns in itself.
func PCM(in []int16, from, to int) ([]int16, error) {
	if from < lowest || from > highest || to < lowest || to > highest {
		return nil, fmt.Errorf("resampling from %d to %d samples a second: give %d to %d", from, to, lowest, highest)
	}
	if from == to || len(in) == 0 {
		return in, nil
	}
	out := make([]int16, int64(len(in))*int64(to)/int64(from))
	if len(out) == 0 {
		return out, nil
	}
	var done C.size_t
	why := C.halo_resample((*C.short)(unsafe.SliceData(in)), C.size_t(len(in)), C.double(from),
		(*C.short)(unsafe.SliceData(out)), C.size_t(len(out)), C.double(to), &done)
	if why != nil {
		return nil, fmt.Errorf("resampling from %d to %d samples a second: %s; choose another voice", from, to, C.GoString(why))
	}
	return out[:done], nil
}
