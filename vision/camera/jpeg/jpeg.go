// Package jpeg decodes camera pictures to grey quickly, by libjpeg(-turbo), and decodes the
// luma only: the standard library takes four times as long (go test ./vision/camera/jpeg
// -bench Decode: 1280 x 960 pixels in 5.1 ms and 19 to 22 ms on x86).
//
// The luma is taken as it stands (see package still for why no tone curve is undone), and
// damaged data is refused: a picture that a decoder had to patch up can carry a false edge
// right through the ring.
package jpeg

import "errors"

// ErrDamaged says that the data is no sound JPEG picture.
var ErrDamaged = errors.New("damaged JPEG picture")
