// Package sky finds the star to collimate on: where the bright stars stand at a
// place and time, where the Sun is, and which star suits best.
//
// Angles are degrees where a name ends in Deg, else radians. Azimuth counts from
// north through east. Positions are good to a few arcseconds; near the horizon
// the air itself differs from the model by more.
//
// The formulas are those of J. Meeus, Astronomical Algorithms, 2nd edition, 1998, named by
// chapter: there is no maintained Go library for them that builds without C.
package sky

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

//go:embed bright-stars.csv
var brightStars string

// Star is a star of the catalogue, at J2000.0 in the ICRS.
type Star struct {
	Name          string
	HIP           int     // Hipparcos number
	RADeg, DecDeg float64 // at J2000.0
	PMRA, PMDec   float64 // proper motion, milliarcseconds a year; PMRA is times cos dec
	V             float64 // Johnson V magnitude
	Pair          bool    // a resolved pair: two rings a few arcseconds apart blur the edges
}

// pairs are the stars that the Hipparcos catalogue flags as resolved or gives a
// solution by components. Arcturus, flagged too, is single to any telescope.
var pairs = map[string]bool{
	"Rigil Kentaurus": true, "Hadar": true, "Acrux": true, "Castor": true, "Alnitak": true, "Dubhe": true,
	"Avior": true, "Algieba": true, "Almach": true, "Izar": true, "Sabik": true,
}

// everyStar returns the stars of the built-in catalogue, the brightest first. Their
// source and licence are in BRIGHT-STARS.md.
func everyStar() []Star {
	stars, err := parse(brightStars)
	if err != nil {
		panic(err) // the catalogue is part of the program; a test reads it
	}
	return stars
}

// Named returns the catalogue's star of that name, however it is capitalised.
func Named(name string) (Star, bool) {
	for _, s := range everyStar() {
		if strings.EqualFold(s.Name, strings.TrimSpace(name)) {
			return s, true
		}
	}
	return Star{}, false
}

func parse(text string) ([]Star, error) {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("reading the star catalogue: %w", err)
	}
	var stars []Star
	for i, row := range rows[1:] {
		var n [6]float64
		for j := range n {
			if n[j], err = strconv.ParseFloat(row[j+1], 64); err != nil {
				return nil, fmt.Errorf("star catalogue, line %d: %w", i+2, err)
			}
		}
		stars = append(stars, Star{
			Name: row[0], HIP: int(n[0]), RADeg: n[1], DecDeg: n[2], PMRA: n[3], PMDec: n[4], V: n[5], Pair: pairs[row[0]],
		})
	}
	return stars, nil
}
