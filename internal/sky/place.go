package sky

import (
	"math"
	"time"

	"gonum.org/v1/gonum/spatial/r3"
)

const (
	deg    = math.Pi / 180
	arcsec = deg / 3600
)

// SiderealRate is how fast the sky turns, arcseconds per second of time: 15 times
// 1.00273790935, the ratio of the sidereal to the mean solar rate (Meeus, chapter 12).
const SiderealRate = 15 * 1.00273790935

// moment is a time in the ways that the formulas need it. Terrestrial time is
// taken to be UTC: the minute between them moves no star by 0.01 arcsec and the
// Sun by 3.
type moment struct {
	jd float64 // Julian date
	c  float64 // Julian centuries since J2000.0
}

func at(t time.Time) moment {
	const unixEpoch = 2440587.5 // Julian date of 1970 January 1, 0h
	jd := unixEpoch + float64(t.UnixMilli())/86400000
	return moment{jd, (jd - 2451545) / 36525}
}

// unit returns the unit vector at a longitude and latitude.
func unit(lon, lat float64) r3.Vec {
	return r3.Vec{X: math.Cos(lat) * math.Cos(lon), Y: math.Cos(lat) * math.Sin(lon), Z: math.Sin(lat)}
}

// angles returns a vector's longitude, 0 to 2 pi, and latitude.
func angles(v r3.Vec) (lon, lat float64) {
	return wrap(math.Atan2(v.Y, v.X)), math.Atan2(v.Z, math.Hypot(v.X, v.Y))
}

// wrap brings an angle between 0 and 2 pi.
func wrap(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a
}

func aboutX(v r3.Vec, a float64) r3.Vec {
	s, c := math.Sincos(a)
	return r3.Vec{X: v.X, Y: c*v.Y - s*v.Z, Z: s*v.Y + c*v.Z}
}

func aboutY(v r3.Vec, a float64) r3.Vec { // positive: from +x to +z
	s, c := math.Sincos(a)
	return r3.Vec{X: c*v.X - s*v.Z, Y: v.Y, Z: s*v.X + c*v.Z}
}

func aboutZ(v r3.Vec, a float64) r3.Vec {
	s, c := math.Sincos(a)
	return r3.Vec{X: c*v.X - s*v.Y, Y: s*v.X + c*v.Y, Z: v.Z}
}

// moved returns the star's direction at J2000.0 axes with its proper motion
// applied; the star is taken to move along a great circle.
func (s Star) moved(m moment) r3.Vec {
	const mas = arcsec / 1000
	ra, dec := s.RADeg*deg, s.DecDeg*deg
	east := r3.Vec{X: -math.Sin(ra), Y: math.Cos(ra)}
	north := r3.Vec{X: -math.Sin(dec) * math.Cos(ra), Y: -math.Sin(dec) * math.Sin(ra), Z: math.Cos(dec)}
	motion := r3.Add(r3.Scale(s.PMRA*mas, east), r3.Scale(s.PMDec*mas, north))
	return r3.Unit(r3.Add(unit(ra, dec), r3.Scale(100*m.c, motion)))
}

// precess turns a direction from the axes of J2000.0 to the mean axes of date
// (Meeus, 21.3 and 21.4).
func precess(v r3.Vec, m moment) r3.Vec {
	t := m.c
	zeta := ((0.017998*t+0.30188)*t + 2306.2181) * t * arcsec
	z := ((0.018203*t+1.09468)*t + 2306.2181) * t * arcsec
	theta := ((-0.041833*t-0.42665)*t + 2004.3109) * t * arcsec
	return aboutZ(aboutY(aboutZ(v, zeta), theta), z)
}

// nutation returns the nutation in longitude and in obliquity, and the mean
// obliquity (Meeus, chapter 22: the short series, good to 0.5 and 0.1 arcsec;
// obliquity 22.2).
func (m moment) nutation() (dpsi, deps, eps float64) {
	t := m.c
	node := (125.04452 - 1934.136261*t) * deg
	sun := (280.4665 + 36000.7698*t) * deg
	moon := (218.3165 + 481267.8813*t) * deg
	dpsi = (-17.20*math.Sin(node) - 1.32*math.Sin(2*sun) - 0.23*math.Sin(2*moon) + 0.21*math.Sin(2*node)) * arcsec
	deps = (9.20*math.Cos(node) + 0.57*math.Cos(2*sun) + 0.10*math.Cos(2*moon) - 0.09*math.Cos(2*node)) * arcsec
	eps = (23*3600 + 26*60 + 21.448 - 46.8150*t - 0.00059*t*t + 0.001813*t*t*t) * arcsec
	return dpsi, deps, eps
}

// aberrate leans a direction on mean axes of date toward where the Earth is
// going (Meeus, chapter 23, in vectors so that it holds at the pole too).
func aberrate(v r3.Vec, m moment) r3.Vec {
	const kappa = 20.49552 * arcsec
	t := m.c
	sun, _ := m.sun()
	e := 0.016708634 - 0.000042037*t
	perihelion := (102.93735 + 1.71946*t) * deg
	velocity := r3.Vec{
		X: kappa * (math.Sin(sun) - e*math.Sin(perihelion)),
		Y: -kappa * (math.Cos(sun) - e*math.Cos(perihelion)),
	}
	_, _, eps := m.nutation()
	return r3.Unit(r3.Add(v, aboutX(velocity, eps)))
}

// nutate turns a direction from the mean to the true axes of date.
func nutate(v r3.Vec, m moment) r3.Vec {
	dpsi, deps, eps := m.nutation()
	return aboutX(aboutZ(aboutX(v, -eps), dpsi), eps+deps)
}

// apparent returns the star's apparent right ascension and declination.
func (s Star) apparent(m moment) (ra, dec float64) {
	return angles(nutate(aberrate(precess(s.moved(m), m), m), m))
}

// sidereal returns the mean and the apparent sidereal time at Greenwich
// (Meeus, 12.4).
func (m moment) sidereal() (mean, apparent float64) {
	t := m.c
	mean = wrap((280.46061837 + 360.98564736629*(m.jd-2451545) + (0.000387933-t/38710000)*t*t) * deg)
	dpsi, deps, eps := m.nutation()
	return mean, wrap(mean + dpsi*math.Cos(eps+deps))
}

// sun returns the Sun's true and apparent ecliptic longitude of date (Meeus,
// chapter 25, good to 0.01 degree).
func (m moment) sun() (true, apparent float64) {
	t := m.c
	l := 280.46646 + (36000.76983+0.0003032*t)*t
	a := (357.52911 + (35999.05029-0.0001537*t)*t) * deg
	c := (1.914602-(0.004817+0.000014*t)*t)*math.Sin(a) + (0.019993-0.000101*t)*math.Sin(2*a) + 0.000289*math.Sin(3*a)
	node := (125.04 - 1934.136*t) * deg
	return wrap((l + c) * deg), wrap((l + c - 0.00569 - 0.00478*math.Sin(node)) * deg)
}
