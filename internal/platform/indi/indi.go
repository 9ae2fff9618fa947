// Package indi speaks the INDI protocol 1.7 (E. C. Downey, "INDI: Instrument
// Neutral Distributed Interface", 2007) as a client: astronomy cameras, mounts
// and focusers publish properties, and a client asks for new values. It knows
// nothing of what the properties mean.
package indi

import (
	"math"
	"strconv"
	"strings"
)

// defaultPort is where an INDI server listens.
const defaultPort = "7624"

// Limits on what a server may send. What is kept of it is bounded together.
const (
	maxElement  = 1 << 20 // bytes of one message without its BLOBs
	maxElements = 1000    // of one message
	maxKept     = 10_000  // properties and elements
	maxText     = 4 << 20 // bytes of them
	maxDevices  = 200     // with a remark
	maxRemark   = 300     // characters of one
)

// MaxBLOB is the most bytes of one BLOB, packed and unpacked, that may be expected.
const MaxBLOB = 52 << 20

// State is a property's state.
type State string

// The states of the protocol.
const (
	Idle  State = "Idle"
	Ok    State = "Ok"
	Busy  State = "Busy"
	Alert State = "Alert"
)

// Interface bits of DRIVER_INFO's DRIVER_INTERFACE (libindi, basedevice.h).
const (
	telescopeBit = 1 << 0
	ccdBit       = 1 << 1
	focuserBit   = 1 << 3
)

// Property is one property vector of a device: its elements have one state.
type Property struct {
	Device, Name string
	State        State
	Elements     map[string]Element
}

// Element is one value of a property. Text holds it as sent; Number and On are
// its meaning in number and switch properties.
type Element struct {
	Text           string
	Number         float64
	On             bool
	Min, Max, Step float64 // of numbers, as the driver defined them
}

// BLOB is a picture or another large value.
type BLOB struct {
	Device, Property string
	Format           string // such as ".fits"
	Data             []byte
}

// parseNumber reads a decimal or sexagesimal number ("-12:30:15", "12 30.5"), as
// the protocol allows. Anything else is NaN.
func parseNumber(s string) float64 {
	s = strings.TrimSpace(s)
	negative := strings.HasPrefix(s, "-")
	parts := strings.FieldsFunc(strings.TrimLeft(s, "+-"), func(r rune) bool { return r == ':' || r == ' ' || r == ';' })
	if len(parts) == 0 || len(parts) > 3 {
		return math.NaN()
	}
	sum, scale := 0.0, 1.0
	for _, p := range parts {
		v, err := strconv.ParseFloat(p, 64)
		if err != nil || v < 0 || math.IsInf(v, 0) {
			return math.NaN()
		}
		sum += v / scale
		scale *= 60
	}
	if negative {
		sum = -sum
	}
	return sum
}
