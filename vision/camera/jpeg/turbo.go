package jpeg

/*
#cgo CFLAGS: -O3
#cgo pkg-config: libjpeg
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <setjmp.h>
#include <jpeglib.h>
#include <jerror.h>

// The library's own handlers print to stderr and leave the process; these
// remember the message and jump back. A warning means damaged data, but for the
// stray bytes that many cameras leave before a marker, and unknown versions.
typedef struct {
	struct jpeg_error_mgr base;
	jmp_buf back;
	char text[JMSG_LENGTH_MAX];
} halo_errors;

static void halo_error(j_common_ptr c) {
	halo_errors *e = (halo_errors *)c->err;
	e->base.format_message(c, e->text);
	longjmp(e->back, 1);
}

static void halo_message(j_common_ptr c, int level) {
	int code = c->err->msg_code;
	if (level < 0 && code != JWRN_EXTRANEOUS_DATA && code != JWRN_JFIF_MAJOR && code != JWRN_ADOBE_XFORM) halo_error(c);
}

typedef struct {
	struct jpeg_decompress_struct c;
	halo_errors e;
	unsigned char *row;
	long row_size;
	long width, height; // by halo_size
} halo_jpeg;

static halo_jpeg *halo_new(void) {
	halo_jpeg *h = calloc(1, sizeof *h);
	if (!h) return NULL;
	h->c.err = jpeg_std_error(&h->e.base);
	h->e.base.error_exit = halo_error;
	h->e.base.emit_message = halo_message;
	if (setjmp(h->e.back)) { free(h); return NULL; }
	jpeg_create_decompress(&h->c);
	return h;
}

static void halo_free(halo_jpeg *h) {
	jpeg_destroy_decompress(&h->c);
	free(h->row);
	free(h);
}

// halo_size reads the header: 0 and the size, or 1 and e.text.
static int halo_size(halo_jpeg *h, const unsigned char *data, unsigned long n) {
	if (setjmp(h->e.back)) { jpeg_abort_decompress(&h->c); return 1; }
	jpeg_mem_src(&h->c, (unsigned char *)data, n);
	jpeg_read_header(&h->c, TRUE);
	h->width = h->c.image_width;
	h->height = h->c.image_height;
	jpeg_abort_decompress(&h->c);
	return 0;
}

// With restrict and -O3 many pixels go at a time.
static void widen(float *restrict out, const unsigned char *restrict row, long w) {
	for (long x = 0; x < w; x++) out[x] = row[x];
}

static int halo_grey(halo_jpeg *h, const unsigned char *data, unsigned long n, float *out) {
	if (setjmp(h->e.back)) { jpeg_abort_decompress(&h->c); return 1; }
	jpeg_mem_src(&h->c, (unsigned char *)data, n);
	jpeg_read_header(&h->c, TRUE);
	h->c.out_color_space = JCS_GRAYSCALE;
	h->c.dct_method = JDCT_ISLOW;
	jpeg_start_decompress(&h->c);
	long w = h->c.output_width;
	if (h->row_size < w) {
		free(h->row);
		h->row = malloc(w);
		h->row_size = h->row ? w : 0;
		if (!h->row) { strcpy(h->e.text, "out of memory"); jpeg_abort_decompress(&h->c); return 1; }
	}
	while (h->c.output_scanline < h->c.output_height) {
		JSAMPROW rows[1] = { h->row };
		jpeg_read_scanlines(&h->c, rows, 1);
		widen(out, h->row, w);
		out += w;
	}
	jpeg_finish_decompress(&h->c);
	return 0;
}
*/
import "C"

import (
	"errors"
	"fmt"
	"unsafe"

	"halocue/vision/frame"
	"halocue/vision/still/size"
)

// Decoder decodes pictures one after the other, from one goroutine at a time.
// The zero value is ready. Close it.
type Decoder struct{ h *C.halo_jpeg }

// Decode decodes the picture in data into f: size, pixels, White. It reuses f's
// pixels and allocates nothing once they suffice. On an error (ErrDamaged,
// wrapped) f is undefined.
func (d *Decoder) Decode(f *frame.Frame, data []byte) error {
	if len(data) == 0 {
		return fmt.Errorf("%w: it is empty", ErrDamaged)
	}
	if d.h == nil {
		if d.h = C.halo_new(); d.h == nil {
			return errors.New("decoding JPEG: the library cannot start; free some memory")
		}
	}
	if _, _, err := size.JPEG(data); err != nil { // before the library sees it
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	p, n := (*C.uchar)(unsafe.SliceData(data)), C.ulong(len(data))
	if C.halo_size(d.h, p, n) != 0 {
		return d.damaged()
	}
	w, h := int(d.h.width), int(d.h.height)
	if size.Live(w, h) != nil { // by the library's own reading
		return fmt.Errorf("%w: %d x %d pixels", ErrDamaged, w, h)
	}
	f.Resize(w, h)
	f.White = 255
	if C.halo_grey(d.h, p, n, (*C.float)(unsafe.SliceData(f.Pix))) != 0 {
		return d.damaged()
	}
	return nil
}

func (d *Decoder) damaged() error {
	return fmt.Errorf("%w: %s", ErrDamaged, C.GoString(&d.h.e.text[0]))
}

// Close gives the library's memory back. The decoder may be used again.
func (d *Decoder) Close() {
	if d.h != nil {
		C.halo_free(d.h)
		d.h = nil
	}
}
