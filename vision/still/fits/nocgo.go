//go:build !cgo

package fits

func unpack(*unit, *Image) error { return ErrNoCgo }
