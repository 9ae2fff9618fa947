package sky

import (
	"math"
	"time"
)

// Site is a place on Earth: latitude north and longitude east positive.
type Site struct{ LatitudeDeg, LongitudeDeg float64 }

// Horizontal is where something stands in the sky.
type Horizontal struct {
	AltitudeDeg float64 // apparent: what the air lifts is included
	AzimuthDeg  float64 // from north through east, 0 to 360
}

// Look returns where the star stands, and how fast it crosses a field that does
// not follow it, arcseconds per second.
func (s Site) Look(star Star, t time.Time) (h Horizontal, drift float64) {
	m := at(t)
	ra, dec := star.apparent(m)
	return s.horizontal(m, ra, dec), SiderealRate * math.Cos(dec)
}

// Sun returns where the Sun's centre stands.
func (s Site) Sun(t time.Time) Horizontal {
	m := at(t)
	_, lon := m.sun()
	_, deps, eps := m.nutation()
	ra, dec := angles(aboutX(unit(lon, 0), eps+deps))
	return s.horizontal(m, ra, dec)
}

func (s Site) horizontal(m moment, ra, dec float64) Horizontal {
	_, gst := m.sidereal()
	az, alt := azimuth(gst+s.LongitudeDeg*deg-ra, dec, s.LatitudeDeg*deg)
	a := alt / deg
	return Horizontal{AltitudeDeg: a + refraction(a), AzimuthDeg: az / deg}
}

// azimuth turns hour angle and declination into azimuth from north and true
// altitude (Meeus, 13.5 and 13.6, whose azimuth counts from the south).
func azimuth(hour, dec, lat float64) (az, alt float64) {
	az = math.Atan2(-math.Cos(dec)*math.Sin(hour), math.Sin(dec)*math.Cos(lat)-math.Cos(dec)*math.Cos(hour)*math.Sin(lat))
	alt = math.Asin(math.Sin(lat)*math.Sin(dec) + math.Cos(lat)*math.Cos(dec)*math.Cos(hour))
	return wrap(az), alt
}

// refraction returns how far the air lifts something of a true altitude, both in
// degrees, at 1010 hPa and 10 C (Saemundsson, in Meeus, 16.4). It fades out
// below the horizon, where nothing is seen.
func refraction(altitudeDeg float64) float64 {
	h := max(altitudeDeg, -1)
	r := 1.02 / math.Tan((h+10.3/(h+5.11))*deg) / 60
	if altitudeDeg < -1 {
		r *= max(0, 1-(-1-altitudeDeg))
	}
	return max(0, r)
}

// separation returns the angle between two directions, degrees.
func separation(a, b Horizontal) float64 {
	u, v := unit(a.AzimuthDeg*deg, a.AltitudeDeg*deg), unit(b.AzimuthDeg*deg, b.AltitudeDeg*deg)
	return 2 * math.Asin(min(1, math.Sqrt((u.X-v.X)*(u.X-v.X)+(u.Y-v.Y)*(u.Y-v.Y)+(u.Z-v.Z)*(u.Z-v.Z))/2)) / deg
}
