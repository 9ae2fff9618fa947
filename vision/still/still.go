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
	"slices"
	"strings"
	"syscall"

	"golang.org/x/image/tiff"

	"halocue/internal/plain"
	"halocue/vision/frame"
	"halocue/vision/still/fits"
	"halocue/vision/still/size"
)

// MaxBytes bounds the file of one picture; see package size for its pixels.
const MaxBytes = size.MaxFile

// extensions are the endings of pictures' names, in lower case.
var extensions = []string{".png", ".jpg", ".jpeg", ".tif", ".tiff", ".fits", ".fit", ".fts", ".fz", ".gz"}

// HasExtension reports whether the file's name ends like a picture's.
func HasExtension(name string) bool {
	return slices.Contains(extensions, strings.ToLower(filepath.Ext(name)))
}

// ReadFile reads the picture in the file; see Reader.ReadInto.
func ReadFile(path string) (*frame.Frame, error) {
	f := &frame.Frame{}
	return f, new(Reader).ReadInto(f, path)
}

// readInto reads the picture in the file into f, reusing f's pixels where they suffice.
// The content decides what it is, not the name's ending. Frame.Name is path.
func readInto(f *frame.Frame, path string) error {
	file, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0) // a named pipe must not hang it
	if err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("reading %s: %w; check the name and the folder", name(path), os.ErrNotExist)
		}
		return fmt.Errorf("reading a picture: %w; check that you may read it", err)
	}
	defer file.Close()
	info, err := file.Stat()
	switch {
	case err != nil:
		return fmt.Errorf("reading a picture: %w; check the disk", err)
	case !info.Mode().IsRegular():
		return fmt.Errorf("reading %s: it is not a file; name a picture in it, or give the folder to --camera", name(path))
	}
	f.Name = path
	data, err := readAll(file, info.Size())
	if err == nil {
		err = decodeInto(f, data, size.Check)
	}
	if err != nil {
		return fmt.Errorf("reading %s: %w", name(path), err)
	}
	return nil
}

// DecodeInto reads the picture held in data, which somebody sent, into f, reusing f's
// pixels where they suffice. It sets the size, the pixels and White, and nothing else.
func DecodeInto(f *frame.Frame, data []byte) error { return decodeInto(f, data, size.Live) }

// decodeInto refuses what bound refuses before it spends memory on the pixels.
func decodeInto(f *frame.Frame, data []byte, bound func(w, h int) error) error {
	switch kind(data) {
	case "":
		return fmt.Errorf("%s; give a PNG, JPEG, TIFF or FITS file", describe(data))
	case "fits":
		return decodeFITS(f, data, bound)
	case "gzip":
		inner, err := unpack(data)
		if err != nil {
			return err
		}
		return decodeFITS(f, inner, bound)
	case "png":
		return decode(f, data, bound, size.PNG, png.DecodeConfig, png.Decode)
	case "jpeg":
		return decode(f, data, bound, func(data []byte) error { _, _, err := size.JPEG(data); return err }, jpeg.DecodeConfig, jpeg.Decode)
	default:
		return decode(f, data, bound, size.TIFF, tiff.DecodeConfig, tiff.Decode)
	}
}

// decode has the header checked before it spends memory on the pixels.
func decode(f *frame.Frame, data []byte, bound func(w, h int) error, check func([]byte) error, config func(io.Reader) (image.Config, error), pixels func(io.Reader) (image.Image, error)) error {
	if err := check(data); err != nil {
		return err
	}
	c, err := config(bytes.NewReader(data))
	if err != nil {
		return damaged(err)
	}
	if err := bound(c.Width, c.Height); err != nil { // by the decoder's own reading
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

// unpack unpacks a gzipped FITS file. Memory is made once, for what it unpacks to: a
// few bytes can claim very much, and a buffer that grows takes more than twice that.
func unpack(data []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w; copy the file again", err)
	}
	start, err := io.ReadAll(io.LimitReader(z, 16))
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w; copy the file again", err)
	}
	if kind(start) != "fits" {
		return nil, errors.New("packed, and not a FITS file inside; unpack it and give the picture")
	}
	room := MaxBytes - int64(len(data)+len(start)) // packed and unpacked, both are held
	n, err := io.Copy(io.Discard, io.LimitReader(z, room+1))
	if err == nil && n > room {
		err = fmt.Errorf("it is larger than %d MB", MaxBytes>>20)
	}
	if err == nil {
		err = z.Reset(bytes.NewReader(data))
	}
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w; copy the file again", err)
	}
	inner := make([]byte, n+int64(len(start)))
	if _, err := io.ReadFull(z, inner); err != nil {
		return nil, fmt.Errorf("unpacking: %w; copy the file again", err)
	}
	return inner, nil
}

// name is a path as it may be printed: what a stranger called a file can hold
// control characters.
func name(path string) string { return plain.Text(path, 200) }

// damaged words a decoder's error; the cause stays wrapped.
func damaged(err error) error {
	return fmt.Errorf("damaged or cut short: %w; copy it again, or save it anew as PNG or FITS", err)
}

func decodeFITS(f *frame.Frame, data []byte, bound func(w, h int) error) error {
	img, err := fits.Decode(data, f.Pix, bound)
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

// readAll is io.ReadAll with an end. Expected is the size, where it is known.
func readAll(r io.Reader, expected int64) ([]byte, error) {
	var b bytes.Buffer
	var err error
	if expected <= MaxBytes {
		b.Grow(int(expected) + bytes.MinRead)
		_, err = b.ReadFrom(io.LimitReader(r, MaxBytes+1))
	}
	if err == nil && max(expected, int64(b.Len())) > MaxBytes {
		err = fmt.Errorf("it is larger than %d MB; crop it round the star", MaxBytes>>20)
	}
	return b.Bytes(), err
}
