//go:build cgo

package fits

/*
#cgo pkg-config: cfitsio
#include <stdlib.h>
#include <string.h>
#include <fitsio.h>

typedef struct {
	long dims[3];
	int bitpix;             // equivalent type, BZERO and BSCALE in mind
	int has_saturate;
	double saturate;
	char bayer[FLEN_VALUE];
	char roworder[FLEN_VALUE];
} halo_head;

// halo_whole: END_OF_FILE where the memory ends before the image does (the
// library itself reads zeros there). The padding after it may be missing.
static int halo_whole(fitsfile *fp, size_t size) {
	LONGLONG head, data, end;
	int status = 0, stored = 0;
	if (fits_get_hduaddrll(fp, &head, &data, &end, &status)) return status;
	if (!fits_is_compressed_image(fp, &status)) {
		int naxis = 0;
		long dims[9] = {0};
		fits_get_img_param(fp, 9, &stored, &naxis, dims, &status);
		if (status) return status;
		if (naxis > 9) return NOT_IMAGE;
		double bytes = abs(stored) / 8; // no integer: it could overflow
		for (int i = 0; i < naxis; i++) bytes *= dims[i];
		if (bytes > (double)size) return END_OF_FILE;
		end = data + (LONGLONG)bytes;
	} else {
		end -= 2879;
	}
	if (!status && end > (LONGLONG)size) status = END_OF_FILE;
	return status;
}

// halo_image opens the memory and moves to the first HDU that holds an image of
// two dimensions or more. The library keeps the addresses of buf and size while
// the file is open: they must outlive it.
static int halo_image(fitsfile **fp, void **buf, size_t *size, halo_head *h) {
	int status = 0, hdus = 0;
	if (fits_open_memfile(fp, "memory", READONLY, buf, size, 0, NULL, &status)) return status;
	fits_get_num_hdus(*fp, &hdus, &status);
	for (int i = 1; i <= hdus && !status; i++) {
		int type = 0, naxis = 0;
		if (fits_movabs_hdu(*fp, i, NULL, &status)) break;
		if (fits_get_hdu_type(*fp, &type, &status)) break;
		if (type != IMAGE_HDU) continue;
		if (fits_get_img_dim(*fp, &naxis, &status)) break;
		if (naxis < 2) continue;
		h->dims[2] = 1;
		fits_get_img_size(*fp, 3, h->dims, &status);
		fits_get_img_equivtype(*fp, &h->bitpix, &status);
		return status ? status : halo_whole(*fp, *size);
	}
	return status ? status : NOT_IMAGE;
}

static int halo_head_of(void *buf, size_t size, halo_head *h) {
	fitsfile *fp = NULL;
	int ignored = 0, status = halo_image(&fp, &buf, &size, h);
	if (!status) { // keywords may be missing: each with a status of its own
		int s = 0;
		h->has_saturate = fits_read_key(fp, TDOUBLE, "SATURATE", &h->saturate, NULL, &s) == 0;
		s = 0;
		if (fits_read_key(fp, TSTRING, "BAYERPAT", h->bayer, NULL, &s)) h->bayer[0] = 0;
		s = 0;
		if (fits_read_key(fp, TSTRING, "ROWORDER", h->roworder, NULL, &s)) h->roworder[0] = 0;
	}
	if (fp) fits_close_file(fp, &ignored);
	return status;
}

static int halo_pixels(void *buf, size_t size, float *pix, long n) {
	fitsfile *fp = NULL;
	halo_head h;
	memset(&h, 0, sizeof h);
	int ignored = 0, status = halo_image(&fp, &buf, &size, &h);
	// A null value of 0 switches the library's null checks off: NaN stays NaN.
	if (!status) fits_read_img(fp, TFLOAT, 1, n, NULL, pix, NULL, &status);
	if (fp) fits_close_file(fp, &ignored);
	return status;
}
*/
import "C"

import (
	"errors"
	"fmt"
	"strings"
	"sync"
	"unsafe"
)

// cfitsio is safe across threads only if built so; distributions differ.
var library sync.Mutex

// Decode reads the first image of two dimensions in data, tile-compressed
// ones too. More than maxPixels is refused, before memory is spent on them.
func Decode(data []byte, maxPixels int) (*Image, error) {
	if len(data) == 0 {
		return nil, errors.New("the FITS file is empty; copy it again")
	}
	library.Lock()
	defer library.Unlock()

	var h C.halo_head
	p := unsafe.Pointer(unsafe.SliceData(data))
	if status := C.halo_head_of(p, C.size_t(len(data)), &h); status != 0 {
		return nil, failed(status)
	}
	w, ht, planes := int(h.dims[0]), int(h.dims[1]), int(h.dims[2])
	if w < 1 || ht < 1 || planes < 1 {
		return nil, fmt.Errorf("%d x %d pixels is no picture; take another", w, ht)
	}
	if w > maxPixels/ht {
		return nil, fmt.Errorf("%d x %d pixels is more than the %d million that are taken; crop it round the star", w, ht, maxPixels/1_000_000)
	}
	// A cube of three planes is colour by common practice; of any other, the
	// first plane is read.
	if planes != 3 {
		planes = 1
	}
	img := &Image{
		Width: w, Height: ht, Planes: planes,
		Pix:      make([]float32, w*ht*planes),
		White:    white(&h),
		Mosaic:   C.GoString(&h.bayer[0]) != "",
		BottomUp: strings.EqualFold(strings.TrimSpace(C.GoString(&h.roworder[0])), "bottom-up"),
	}
	status := C.halo_pixels(p, C.size_t(len(data)), (*C.float)(unsafe.SliceData(img.Pix)), C.long(len(img.Pix)))
	if status != 0 {
		return nil, failed(status)
	}
	return img, nil
}

// white is the clipping level by the header.
func white(h *C.halo_head) float32 {
	switch {
	case h.has_saturate != 0 && h.saturate > 0:
		return float32(h.saturate)
	case h.bitpix == C.BYTE_IMG:
		return 255
	case h.bitpix == C.SHORT_IMG:
		return 32767
	case h.bitpix == C.USHORT_IMG:
		return 65535
	}
	return 0
}

func failed(status C.int) error {
	var text [C.FLEN_STATUS]C.char
	C.fits_get_errstatus(status, &text[0])
	C.fits_clear_errmsg()
	why := C.GoString(&text[0])
	switch status {
	case C.END_OF_FILE, C.READ_ERROR, C.SEEK_ERROR:
		return fmt.Errorf("the FITS file ends too early (cfitsio: %s); copy it again from the camera", why)
	case C.NOT_IMAGE:
		return errors.New("the FITS file holds no image; give one that does")
	}
	return fmt.Errorf("the FITS file is damaged (cfitsio status %d: %s); save it again", int(status), why)
}
