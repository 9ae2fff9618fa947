package fits

/*
#cgo pkg-config: cfitsio
#include <stdlib.h>
#include <fitsio.h>

// halo_open opens the memory, whose address and size the library keeps: they must
// outlive the file. It moves to the second unit, the packed image.
static int halo_open(fitsfile **fp, void **buf, size_t *size) {
	int status = 0;
	fits_open_memfile(fp, "memory", READONLY, buf, size, 0, NULL, &status);
	fits_movabs_hdu(*fp, 2, NULL, &status);
	return status;
}

// A null value of 0 switches the library's null checks off: NaN stays NaN.
static int halo_read(fitsfile *fp, long long first, long long n, float *pix) {
	int status = 0;
	fits_read_img(fp, TFLOAT, first, n, NULL, pix, NULL, &status);
	return status;
}
*/
import "C"

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"sync"
	"time"
	"unsafe"

	"halocue/internal/platform/confine"
	"halocue/vision/still/size"
)

// Bounds on the unpacking process. It unpacks one picture after the other, and is
// replaced now and then, for its processor time counts from its start.
const (
	memory     = 320 << 20 // beyond what it has when it starts
	perPicture = 15 * time.Second
	pictures   = 400
)

var job = confine.Register("unpack FITS", confine.Limits{Memory: memory, CPU: pictures * perPicture / 8, Files: 16}, work)

// The first number of a request is the file's size, then come its pixels and how
// many are unpacked at a time; all are 8 bytes. The answer is the pixels, each part
// after its status.
type request struct{ Bytes, Pixels, Part int64 }

// one is the running process.
var one struct {
	sync.Mutex
	*confine.Process
	done int
}

// unpack has the pixels of a bounded unit unpacked. The library sees no other unit.
func unpack(u *unit, img *Image) error {
	one.Lock()
	defer one.Unlock()
	if one.Process == nil {
		p, err := job.Start()
		if err != nil {
			return err
		}
		one.Process, one.done = p, 0
	}
	err := exchange(one.Process, u, img)
	if one.done++; err != nil || one.done == pictures {
		one.End()
		one.Process = nil
	}
	if err != nil {
		return fmt.Errorf("unpacking the FITS file: %w; save it again, or unpack it with funpack", err)
	}
	return nil
}

func exchange(p *confine.Process, u *unit, img *Image) error {
	late := time.AfterFunc(perPicture, p.Kill)
	defer late.Stop()
	first := empty()
	data := u.bytes[:int64(u.head)+u.size]
	padding := make([]byte, (block-len(data)%block)%block)
	part := int64(min(len(img.Pix), 1<<20))
	head := request{int64(len(first) + len(data) + len(padding)), int64(len(img.Pix)), part}
	if tiles, err := u.optional("ZTILE2", 1, 1, math.MaxInt32); err == nil { // whole tiles, or each is unpacked more than once
		rows := min(tiles, int64(img.Height))
		part = max(part/(rows*int64(img.Width)), 1) * rows * int64(img.Width)
		head.Part = min(part, head.Pixels)
	}
	sent := make(chan error, 1)
	go func() {
		err := binary.Write(p.In, binary.LittleEndian, head)
		for _, b := range [][]byte{first, data, padding} {
			if err == nil {
				_, err = p.In.Write(b)
			}
		}
		sent <- err
	}()
	err := receive(p.Out, img.Pix, int(head.Part))
	if err != nil {
		p.Kill()
		if said := statusError(0); !errors.As(err, &said) {
			err = p.Died()
		}
	}
	<-sent // it fails where the process died, which the answer tells
	return err
}

type statusError int32

func (s statusError) Error() string {
	var text [C.FLEN_STATUS]C.char
	C.fits_get_errstatus(C.int(s), &text[0])
	if s == C.END_OF_FILE || s == C.READ_ERROR {
		return "it ends too early (cfitsio: " + C.GoString(&text[0]) + ")"
	}
	return fmt.Sprintf("it is damaged (cfitsio status %d: %s)", int32(s), C.GoString(&text[0]))
}

// receive reads the answer into pix.
func receive(r io.Reader, pix []float32, part int) error {
	var status [4]byte
	raw := make([]byte, 64<<10)
	for len(pix) > 0 {
		if _, err := io.ReadFull(r, status[:]); err != nil {
			return err
		}
		if s := int32(binary.LittleEndian.Uint32(status[:])); s != 0 {
			return statusError(s)
		}
		for now := pix[:min(part, len(pix))]; len(now) > 0; {
			b := raw[:min(len(raw), 4*len(now))]
			if _, err := io.ReadFull(r, b); err != nil {
				return err
			}
			for i := range len(b) / 4 {
				now[i] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*i:]))
			}
			now = now[len(b)/4:]
		}
		pix = pix[min(part, len(pix)):]
	}
	return nil
}

// empty is the first unit that a file with a packed image begins with.
func empty() []byte {
	var b bytes.Buffer
	for _, c := range []string{"SIMPLE  =                    T", "BITPIX  =                    8", "NAXIS   =                    0", "EXTEND  =                    T", "END"} {
		fmt.Fprintf(&b, "%-80s", c)
	}
	b.WriteString(string(bytes.Repeat([]byte(" "), block-b.Len())))
	return b.Bytes()
}

// work answers requests, in the process of its own.
func work(in io.Reader, out io.Writer) error {
	var spare []byte
	var pix []float32
	for {
		var r request
		if err := binary.Read(in, binary.LittleEndian, &r); err == io.EOF {
			return nil
		} else if err != nil {
			return err
		}
		if r.Bytes > size.MaxFile+2*block || r.Part > 3*size.MaxPixels || r.Part < 1 {
			return errors.New("the request is out of bounds")
		}
		if int64(cap(spare)) < r.Bytes {
			spare = make([]byte, r.Bytes)
		}
		if int64(cap(pix)) < r.Part {
			pix = make([]float32, r.Part)
		}
		data := spare[:r.Bytes]
		if _, err := io.ReadFull(in, data); err != nil {
			return err
		}
		if err := unpackParts(data, r, pix, out); err != nil {
			return err
		}
	}
}

func unpackParts(data []byte, r request, pix []float32, out io.Writer) error {
	var pin runtime.Pinner
	defer pin.Unpin()
	pin.Pin(&data[0])
	p, n := unsafe.Pointer(&data[0]), C.size_t(len(data))
	buf := (*unsafe.Pointer)(C.malloc(C.size_t(unsafe.Sizeof(p))))
	defer C.free(unsafe.Pointer(buf))
	long := (*C.size_t)(C.malloc(C.size_t(unsafe.Sizeof(n))))
	defer C.free(unsafe.Pointer(long))
	*buf, *long = p, n
	var fp *C.fitsfile
	status := C.halo_open(&fp, buf, long)
	if fp != nil {
		defer func() {
			var ignored C.int // it was only read
			C.fits_close_file(fp, &ignored)
		}()
	}
	for done := int64(0); done < r.Pixels; done += r.Part {
		now := pix[:min(r.Part, r.Pixels-done)]
		if status == 0 {
			status = C.halo_read(fp, C.longlong(done+1), C.longlong(len(now)), (*C.float)(&now[0]))
		}
		if err := binary.Write(out, binary.LittleEndian, int32(status)); err != nil || status != 0 {
			return err
		}
		raw := unsafe.Slice((*byte)(unsafe.Pointer(&now[0])), 4*len(now)) // both machines are little endian
		if _, err := out.Write(raw); err != nil {
			return err
		}
	}
	return nil
}
