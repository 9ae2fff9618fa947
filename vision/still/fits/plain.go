package fits

import (
	"encoding/binary"
	"math"
)

// pixels fills pix with the values of a plain image, whose header is bounded and
// whose data is all there.
func (u *unit) pixels(bitpix int, pix []float32) error {
	width := max(bitpix, -bitpix) / 8
	raw := u.bytes[u.head:]
	if len(pix)*width > len(raw) {
		return errShort
	}
	raw = raw[:len(pix)*width]
	zero, _ := u.number("BZERO")
	scale, ok := u.number("BSCALE")
	if !ok {
		scale = 1
	}
	blank, undefined := u.number("BLANK")
	undefined = undefined && bitpix > 0
	physical := func(v float64) float32 {
		if undefined && v == blank {
			return float32(math.NaN())
		}
		return float32(zero + scale*v)
	}
	fill := func(stored func(i int) float64) {
		for i := range pix {
			pix[i] = physical(stored(i))
		}
	}
	order := binary.BigEndian
	switch bitpix {
	case 8:
		var all [256]float32
		for v := range all {
			all[v] = physical(float64(v))
		}
		for i, v := range raw {
			pix[i] = all[v]
		}
	case 16:
		if scale == 1 && zero == math.Trunc(zero) && math.Abs(zero) <= 1<<20 && !undefined { // exact in single precision
			offset := int32(zero)
			for i := range pix {
				pix[i] = float32(int32(int16(order.Uint16(raw[2*i:]))) + offset)
			}
			return nil
		}
		fill(func(i int) float64 { return float64(int16(order.Uint16(raw[2*i:]))) })
	case 32:
		fill(func(i int) float64 { return float64(int32(order.Uint32(raw[4*i:]))) })
	case 64:
		fill(func(i int) float64 { return float64(int64(order.Uint64(raw[8*i:]))) })
	case -32:
		fill(func(i int) float64 { return float64(math.Float32frombits(order.Uint32(raw[4*i:]))) })
	default:
		fill(func(i int) float64 { return math.Float64frombits(order.Uint64(raw[8*i:])) })
	}
	return nil
}
