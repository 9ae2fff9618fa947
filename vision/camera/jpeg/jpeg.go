// Package jpeg decodes camera pictures to grey quickly. With cgo it uses
// libjpeg(-turbo) and decodes the luma only; without, the standard library, which takes
// four times as long (go test ./vision/camera/jpeg -bench Decode: 1280 x 960 pixels in
// 5.1 ms and 19 to 22 ms on x86).
//
// Both take the luma as it stands (see package still for why no tone curve is
// undone) and both refuse damaged data: a picture that a decoder had to patch
// up can carry a false edge right through the ring.
package jpeg

import "errors"

// ErrDamaged says that the data is no sound JPEG picture.
var ErrDamaged = errors.New("damaged JPEG picture")
