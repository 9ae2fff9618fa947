package fits

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"halocue/vision/still/size"
)

// Bounds on what a header may say. Cameras write one unit of about 100 lines.
const (
	block     = 2880 // bytes, of which a file is made (standard 4.0, 3.1)
	line      = 80
	maxBlocks = 400 // of one header: 14,400 lines
	maxUnits  = 64
	maxAxes   = 9
)

// unit is one header and data unit of a file.
type unit struct {
	values map[string]string // by keyword; the first of each, without its remark
	head   int               // bytes of the header
	size   int64             // bytes of the data, without padding
	bytes  []byte            // from the header's first on
	packed bool              // a tile-compressed image (standard 4.0, 10.1)
	axes   int
}

// readUnit reads and bounds the header at the start of data.
func readUnit(data []byte, first bool) (*unit, error) {
	u := &unit{values: map[string]string{}}
	ended := false
	for !ended {
		if u.head+block > len(data) {
			return nil, errShort
		}
		if u.head == maxBlocks*block {
			return nil, fmt.Errorf("the FITS file has a header of more than %d lines; save it again", maxBlocks*block/line)
		}
		for i := 0; i < block && !ended; i += line {
			ended = u.card(data[u.head+i:][:line])
		}
		u.head += block
	}
	kind := u.text("XTENSION")
	if first && u.values["SIMPLE"] != "T" || !first && kind == "" {
		return nil, fmt.Errorf("the FITS file is damaged (a header does not begin as it must); save it again")
	}
	var bits int64
	var dims []int64
	var err error
	if bits, err = u.whole("BITPIX", -64, 64); err != nil {
		return nil, err
	}
	if dims, err = u.dims("NAXIS"); err != nil {
		return nil, err
	}
	u.axes = len(dims)
	parameters, groups := int64(0), int64(1)
	if !first {
		if parameters, err = u.optional("PCOUNT", 0, 0, math.MaxInt32); err != nil {
			return nil, err
		}
		if groups, err = u.optional("GCOUNT", 1, 1, 1); err != nil {
			return nil, err
		}
	}
	if len(dims) > 0 {
		u.size = 1
		for _, d := range dims {
			u.size *= d // each below 2^31, and the product kept below 2^40
			if u.size > 1<<40 {
				return nil, errShort
			}
		}
		u.size = groups * (max(bits, -bits) / 8) * (parameters + u.size)
	}
	switch {
	case first || kind == "IMAGE":
	case kind == "BINTABLE" && u.values["ZIMAGE"] == "T":
		u.packed = true
		return u, u.boundTiles(dims)
	default:
		u.axes = 0 // no image
	}
	return u, nil
}

// card takes one line; true at the last.
func (u *unit) card(c []byte) bool {
	key := strings.TrimRight(string(c[:8]), " ")
	if key == "END" {
		return true
	}
	if string(c[8:10]) != "= " {
		return false
	}
	if _, had := u.values[key]; !had {
		u.values[key] = value(c[10:])
	}
	return false
}

// value is the value in a line, without its remark; of text, with its quotation mark.
func value(c []byte) string {
	c = bytes.TrimLeft(c, " ")
	if len(c) > 0 && c[0] == '\'' {
		text := []byte("'")
		for i := 1; i < len(c); i++ {
			if c[i] == '\'' {
				if i+1 == len(c) || c[i+1] != '\'' {
					break
				}
				i++ // two stand for one
			}
			text = append(text, c[i])
		}
		return strings.TrimRight(string(text), " ")
	}
	before, _, _ := bytes.Cut(c, []byte("/"))
	return strings.TrimSpace(string(before))
}

// text is a value in quotation marks, else "".
func (u *unit) text(key string) string {
	text, ok := strings.CutPrefix(u.values[key], "'")
	if !ok {
		return ""
	}
	return strings.TrimSpace(text)
}

// number is a value that is one.
func (u *unit) number(key string) (float64, bool) {
	x, err := strconv.ParseFloat(strings.Replace(u.values[key], "D", "E", 1), 64)
	return x, err == nil && !math.IsInf(x, 0) && !math.IsNaN(x)
}

// whole is a value that must be there, from low to high.
func (u *unit) whole(key string, low, high int64) (int64, error) {
	n, err := strconv.ParseInt(u.values[key], 10, 64)
	if err != nil || n < low || n > high {
		return 0, fmt.Errorf("the FITS file is damaged (its header says %s = %.20q); save it again", key, u.values[key])
	}
	return n, nil
}

func (u *unit) optional(key string, otherwise, low, high int64) (int64, error) {
	if _, ok := u.values[key]; !ok {
		return otherwise, nil
	}
	return u.whole(key, low, high)
}

// dims are the lengths of the axes that key counts.
func (u *unit) dims(key string) ([]int64, error) {
	n, err := u.whole(key, 0, maxAxes)
	if err != nil {
		return nil, err
	}
	dims := make([]int64, n)
	for i := range dims {
		if dims[i], err = u.whole(fmt.Sprint(key, i+1), 0, math.MaxInt32); err != nil {
			return nil, err
		}
	}
	return dims, nil
}

// picture reports whether the unit is an image of two dimensions or more.
func (u *unit) picture() bool { return u.axes >= 2 }

// boundTiles bounds what the unpacking library takes from a header: the picture, its
// tiles and the table that holds them. Axes become the picture's.
func (u *unit) boundTiles(table []int64) error {
	dims, err := u.dims("ZNAXIS")
	if err != nil {
		return err
	}
	u.axes = len(dims)
	if len(dims) < 2 {
		return nil // not read
	}
	if len(dims) > 3 {
		return fmt.Errorf("the FITS file packs an image of %d dimensions; unpack it with funpack", len(dims))
	}
	if len(table) != 2 {
		return fmt.Errorf("the FITS file is damaged (a packed image in a table of %d dimensions); save it again", len(table))
	}
	if _, err := u.whole("TFIELDS", 1, 16); err != nil {
		return err
	}
	tile, tiles := int64(1), int64(1)
	for i, d := range dims {
		if d < 1 || d > size.MaxPixels {
			return fmt.Errorf("the FITS file packs an image of %d pixels in one direction; save it again", d)
		}
		otherwise := int64(1) // a row, where nothing is said (10.1.1)
		if i == 0 {
			otherwise = d
		}
		n, err := u.optional(fmt.Sprint("ZTILE", i+1), otherwise, 1, math.MaxInt32)
		if err != nil {
			return err
		}
		tile *= min(n, d)
		tiles *= (d + n - 1) / n
		if tile > size.MaxPixels || tiles > size.MaxPixels {
			return fmt.Errorf("the FITS file packs its image in parts of %d pixels; unpack it with funpack", tile)
		}
	}
	if table[1] != tiles {
		return fmt.Errorf("the FITS file is damaged (%d parts of a packed image where there must be %d); save it again", table[1], tiles)
	}
	return nil
}
