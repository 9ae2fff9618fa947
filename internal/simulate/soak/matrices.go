//go:build matprofile

package soak

import "gocv.io/x/gocv"

func matrices() int { return gocv.MatProfile.Count() }
