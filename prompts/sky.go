package prompts

import (
	"errors"
	"math"
)

// compass says a direction, args["azimuth"] in degrees from north through east, as the
// nearest of eight points of the compass.
func (p *Phrases) compass(args map[string]any) (string, error) {
	azimuth, ok := number(args["azimuth"])
	if !ok {
		return "", errors.New("a star without an azimuth")
	}
	winds := [...]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	i := int(math.Round(azimuth/45)) % len(winds)
	return p.message("compass."+winds[(i+len(winds))%len(winds)], nil, nil)
}

// fists says an altitude, args["altitude"] in degrees, in fists at arm's length of
// ten degrees (common practice, no source).
func (p *Phrases) fists(args map[string]any) (string, error) {
	altitude, ok := number(args["altitude"])
	if !ok {
		return "", errors.New("a star without an altitude")
	}
	n := max(1, int(math.Round(altitude/10)))
	return p.message("fists", map[string]any{"N": n}, n)
}
