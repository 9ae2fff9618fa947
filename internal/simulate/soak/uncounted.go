//go:build !matprofile

package soak

func matrices() int { return 0 }
