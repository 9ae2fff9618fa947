// Package jpeg decodes camera pictures to grey quickly. With cgo it uses
// libjpeg(-turbo) and decodes the luma only; without, the standard library.
//
// Both take the luma as it stands (see package still for why no tone curve is
// undone) and both refuse damaged data: a picture that a decoder had to patch
// up can carry a false edge right through the ring.
package jpeg

import "errors"

// Limits as in package still.
const maxPixels = 100_000_000

// ErrDamaged says that the data is no sound JPEG picture.
var ErrDamaged = errors.New("damaged JPEG picture")
