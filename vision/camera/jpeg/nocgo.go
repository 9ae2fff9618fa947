//go:build !cgo

package jpeg

import (
	"bytes"
	"fmt"
	"image/jpeg"

	"halocue/vision/frame"
	"halocue/vision/still"
	"halocue/vision/still/size"
)

// Decoder decodes pictures one after the other.
type Decoder struct{}

// Decode decodes the picture in data into f: size, pixels, White.
func (d *Decoder) Decode(f *frame.Frame, data []byte) error {
	if _, _, err := size.JPEG(data); err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	still.Grey(f, img)
	return nil
}

// Close releases nothing in this build.
func (d *Decoder) Close() {}
