//go:build !cgo

package fits

// Decode always fails with ErrNoCgo in this build.
func Decode(data []byte, maxPixels int) (*Image, error) { return nil, ErrNoCgo }
