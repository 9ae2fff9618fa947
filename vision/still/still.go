// Package still reads one picture from a file: PNG, JPEG, TIFF or FITS, grey or
// colour, 8 or 16 bits (FITS: any), and reduces it to linear grey.
//
// Values are taken as they stand in the file, "linear in light" being a promise
// of whoever wrote it. FITS, 16-bit PNG and TIFF are linear by common practice;
// 8-bit PNG and JPEG from cameras often carry a tone curve (sRGB), but astronomy
// software writes linear 8-bit files too, and nothing in the file tells them
// apart reliably. A tone curve is monotone, so it moves both edges of the ring
// by nearly the same amount all round and leaves the centres where they are;
// undoing a curve that is not there would do as much harm. So none is undone.
package still

import (
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/image/tiff"

	"halocue/internal/frame"
	"halocue/vision/still/fits"
)

// Limits on one picture. The largest cameras sold today have about 60 Mpx.
const (
	MaxPixels = 100_000_000
	MaxBytes  = 1 << 29
)

// Extensions lists the file name endings that ReadFile is meant for, in lower case.
var Extensions = []string{".png", ".jpg", ".jpeg", ".tif", ".tiff", ".fits", ".fit", ".fts", ".fz", ".gz"}

// HasExtension reports whether the file's name ends like a picture's.
func HasExtension(name string) bool {
	ext := strings.ToLower(filepath.Ext(name))
	for _, e := range Extensions {
		if ext == e {
			return true
		}
	}
	return false
}

// ReadFile reads the picture in the file. The content decides what it is, not
// the name's ending. Frame.Name is path.
func ReadFile(path string) (*frame.Frame, error) {
	file, err := os.Open(path)
	if err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("reading %s: %w; check the name and the folder", path, os.ErrNotExist)
		}
		return nil, fmt.Errorf("reading a picture: %w; check that you may read it", err)
	}
	defer file.Close()
	if info, err := file.Stat(); err == nil && !info.Mode().IsRegular() {
		return nil, fmt.Errorf("reading %s: it is not a file; name a picture in it, or give the folder to --camera", path)
	}
	return Decode(file, path)
}

// Decode reads one picture from r, to its end. Name goes into Frame.Name and
// into the error, which always ends with what to do next.
func Decode(r io.Reader, name string) (*frame.Frame, error) {
	data, err := readAll(r)
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	f := &frame.Frame{Name: name}
	if err := DecodeInto(f, data); err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	return f, nil
}

// DecodeInto reads the picture held in data into f, reusing f's pixels where
// they suffice. It sets the size, the pixels and White, and nothing else.
func DecodeInto(f *frame.Frame, data []byte) error {
	switch kind(data) {
	case "":
		return fmt.Errorf("%s; give a PNG, JPEG, TIFF or FITS file", describe(data))
	case "fits":
		return decodeFITS(f, data)
	case "gzip":
		z, err := gzip.NewReader(bytes.NewReader(data))
		if err != nil {
			return fmt.Errorf("unpacking: %w; copy the file again", err)
		}
		inner, err := readAll(z)
		if err != nil {
			return fmt.Errorf("unpacking: %w; copy the file again", err)
		}
		if kind(inner) != "fits" {
			return errors.New("packed, and not a FITS file inside; unpack it and give the picture")
		}
		return decodeFITS(f, inner)
	case "png":
		return decode(f, data, png.DecodeConfig, png.Decode)
	case "jpeg":
		return decode(f, data, jpeg.DecodeConfig, jpeg.Decode)
	default:
		return decode(f, data, tiff.DecodeConfig, tiff.Decode)
	}
}

// decode asks for the size before it spends memory on the pixels.
func decode(f *frame.Frame, data []byte, config func(io.Reader) (image.Config, error), pixels func(io.Reader) (image.Image, error)) error {
	c, err := config(bytes.NewReader(data))
	if err != nil {
		return damaged(err)
	}
	if err := checkSize(c.Width, c.Height); err != nil {
		return err
	}
	img, err := pixels(bytes.NewReader(data))
	if err != nil {
		return damaged(err)
	}
	if img.Bounds().Dx() != c.Width || img.Bounds().Dy() != c.Height {
		return errors.New("its header and its pixels disagree; take or copy the picture again")
	}
	Grey(f, img)
	return nil
}

// damaged words a decoder's error; the cause stays wrapped.
func damaged(err error) error {
	return fmt.Errorf("damaged or cut short: %w; copy it again, or save it anew as PNG or FITS", err)
}

func checkSize(w, h int) error {
	if w < 1 || h < 1 {
		return fmt.Errorf("%d x %d pixels is no picture; take another", w, h)
	}
	if w > MaxPixels/h {
		return fmt.Errorf("%d x %d pixels is more than the %d million that are taken; crop it round the star", w, h, MaxPixels/1_000_000)
	}
	return nil
}

func decodeFITS(f *frame.Frame, data []byte) error {
	img, err := fits.Decode(data, MaxPixels)
	if err != nil {
		return err
	}
	fromFITS(f, img)
	return nil
}

// kind tells the format by its first bytes, or "".
func kind(data []byte) string {
	for _, k := range []struct{ magic, kind string }{
		{"\x89PNG\r\n\x1a\n", "png"},
		{"\xff\xd8\xff", "jpeg"},
		{"II*\x00", "tiff"},
		{"MM\x00*", "tiff"},
		{"SIMPLE  =", "fits"},
		{"\x1f\x8b", "gzip"},
	} {
		if bytes.HasPrefix(data, []byte(k.magic)) {
			return k.kind
		}
	}
	return ""
}

// describe says what data is, for somebody who thought it was a picture.
func describe(data []byte) string {
	if len(data) == 0 {
		return "the file is empty"
	}
	head := data[:min(len(data), 512)]
	for _, b := range head {
		if b < 0x20 && b != '\n' && b != '\r' && b != '\t' {
			return "not a picture that can be read here"
		}
	}
	return "it holds text, not a picture"
}

// readAll is io.ReadAll with an end.
func readAll(r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("it is larger than %d MB; crop it round the star", MaxBytes>>20)
	}
	return data, nil
}
