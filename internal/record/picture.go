package record

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"math"
)

// bareJPEG returns a JPEG picture without the segments that say where, with what and by
// whom it was taken: every application segment but JFIF and the colour transform, and
// remarks (ITU-T T.81, B.2.4). The picture itself stays to the byte.
func bareJPEG(data []byte) []byte {
	const app0, app14, app15, remark, scan = 0xe0, 0xee, 0xef, 0xfe, 0xda
	if len(data) < 2 {
		return data
	}
	out := append(make([]byte, 0, len(data)), data[:2]...)
	rest := data[2:]
	for len(rest) >= 4 && rest[0] == 0xff && rest[1] != scan {
		if rest[1] == 0xff { // padding
			rest = rest[1:]
			continue
		}
		n := 2 + int(binary.BigEndian.Uint16(rest[2:]))
		if n > len(rest) {
			break
		}
		if m := rest[1]; m == app0 || m == app14 || m != remark && (m < app0 || m > app15) {
			out = append(out, rest[:n]...)
		}
		rest = rest[n:]
	}
	return append(out, rest...)
}

const block = 2880 // bytes of a FITS record

// packedFITS writes pixels as a gzipped FITS image (FITS standard 4.0, 4.4 and 5): whole
// numbers in 8 or 16 bits; others, and those of which nobody knows what white is, as
// 32-bit numbers. SATURATE (common practice) is white. The header says nothing else.
func packedFITS(width, height int, pix []float32, white float32) ([]byte, error) {
	bits, zero := 8, 0
	for _, v := range pix {
		if white <= 0 || v != float32(math.Trunc(float64(v))) || v > math.MaxUint16 || v < 0 {
			bits = -32
			break
		} else if v > math.MaxUint8 {
			bits, zero = 16, 32768
		}
	}
	if bits == -32 {
		zero = 0
	}
	var head bytes.Buffer
	card := func(key string, value any) { fmt.Fprintf(&head, "%-80s", fmt.Sprintf("%-8s= %20v", key, value)) }
	card("SIMPLE", "T")
	card("BITPIX", bits)
	card("NAXIS", 2)
	card("NAXIS1", width)
	card("NAXIS2", height)
	if zero != 0 {
		card("BZERO", zero)
	}
	if white > 0 {
		card("SATURATE", white)
	}
	fmt.Fprintf(&head, "%-80s", "END")
	head.Write(bytes.Repeat([]byte(" "), pad(head.Len())))

	size := map[int]int{8: 1, 16: 2, -32: 4}[bits]
	raw := make([]byte, size*len(pix), size*len(pix)+block)
	for i, v := range pix {
		switch bits {
		case 8:
			raw[i] = byte(v)
		case 16:
			binary.BigEndian.PutUint16(raw[2*i:], uint16(int(v)-zero))
		default:
			binary.BigEndian.PutUint32(raw[4*i:], math.Float32bits(v))
		}
	}
	raw = raw[:len(raw)+pad(len(raw))]

	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestSpeed)
	for _, part := range [][]byte{head.Bytes(), raw} {
		if err == nil {
			_, err = z.Write(part)
		}
	}
	if err == nil {
		err = z.Close()
	}
	return out.Bytes(), err
}

// pad is how many bytes are wanting for whole FITS records.
func pad(n int) int { return (block - n%block) % block }
