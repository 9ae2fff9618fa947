//go:build !cgo

package jpeg

import (
	"bytes"
	"fmt"
	"image/jpeg"

	"halocue/internal/frame"
	"halocue/vision/still"
)

// Decoder decodes pictures one after the other.
type Decoder struct{}

// Decode decodes the picture in data into f: size, pixels, White.
func (d *Decoder) Decode(f *frame.Frame, data []byte) error {
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	if c.Width < 1 || c.Height < 1 || c.Width > maxPixels/c.Height {
		return fmt.Errorf("%w: %d x %d pixels", ErrDamaged, c.Width, c.Height)
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
