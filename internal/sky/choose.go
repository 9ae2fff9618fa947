package sky

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Wish is what the star is for. All but the site and the time may be zero.
type Wish struct {
	Site       Site
	At         time.Time
	RoofDeg    float64     // altitude below which nothing is seen
	ApertureMM float64     // of the telescope, 0 where it is not known
	Tracking   bool        // the mount follows the sky
	Target     *Horizontal // where the telescope will be used, or nil
	Daylight   bool        // choose although the Sun is up
}

// Choice is a star that suits, from the time of the wish until an hour later.
type Choice struct {
	Star
	Horizontal          // at the time of the wish
	Drift      float64  // across a field that does not follow, arcseconds per second
	Later      float64  // altitude an hour later, degrees
	Reasons    []Reason // what speaks for it and against it
	cost       float64  // in units of the blur at the zenith; less is better
}

// Reason is a reason for or against a star.
type Reason string

// The reasons, as they are called among the tools' sentences.
const (
	High      Reason = "high"
	Low       Reason = "low"
	Brilliant Reason = "very-bright"
	Enough    Reason = "bright-enough"
	Single    Reason = "single"
	Double    Reason = "pair"
	Still     Reason = "still" // nearly, though the mount does not follow
	Slow      Reason = "slow"
	Overhead  Reason = "overhead-hard"
	Rising    Reason = "rising"
	Sinking   Reason = "sinking"
	NearThere Reason = "near" // where the telescope will be used
)

// A star must suit for an hour from now: a collimation with cold fingers may take that
// long (judgement).
const ahead = time.Hour

// faintest returns the faintest magnitude that gives a ring to measure through an
// aperture of so many mm, 0 for not known. Common practice, no source: second
// magnitude for 150 mm, and the light grows with the area.
func faintest(apertureMM float64) float64 {
	apertureMM = cmp.Or(apertureMM, 150)
	return min(3, max(1, 2+5*math.Log10(apertureMM/150)))
}

// sunClearance is how far from the Sun a star must stand in daylight and
// twilight, degrees: a tube swept past the Sun blinds and burns.
const sunClearance = 45

// Choose returns the stars that suit, the best first. None where the Sun is up,
// unless the wish says Daylight; see Light.
func Choose(w Wish) []Choice {
	sun := w.Site.Sun(w.At)
	light := Brightness(sun.AltitudeDeg)
	if light == Day && !w.Daylight {
		return nil
	}
	var suit []Choice
	for _, s := range everyStar() {
		c := Choice{Star: s}
		c.Horizontal, c.Drift = w.Site.Look(s, w.At)
		middle, _ := w.Site.Look(s, w.At.Add(ahead/2))
		end, _ := w.Site.Look(s, w.At.Add(ahead))
		c.Later = end.AltitudeDeg
		lowest := min(c.AltitudeDeg, middle.AltitudeDeg, end.AltitudeDeg)
		switch {
		case lowest < max(w.RoofDeg, 10), s.V > faintest(w.ApertureMM):
			continue
		case light <= Dusk && separation(sun, c.Horizontal) < sunClearance:
			continue
		}
		c.weigh(w, lowest, max(c.AltitudeDeg, middle.AltitudeDeg, end.AltitudeDeg))
		suit = append(suit, c)
	}
	slices.SortStableFunc(suit, func(a, b Choice) int { return cmp.Compare(a.cost, b.cost) })
	return suit
}

// The weights. One unit is the blur of the air at the zenith; what each drawback
// is worth in it is common practice, no source.
const (
	pairCost     = 0.6  // two rings
	faintCost    = 0.15 // per magnitude fainter than 0.5: shorter exposures freeze the air
	driftCost    = 0.9  // for the celestial equator with a mount at rest: the star is out of the frame within a minute
	overheadCost = 0.3
	targetCost   = 0.8 // a quarter of the sky away: the mirror shifts as the tube is swung
)

// weigh sets cost and reasons. The blur grows with the air in the way as its
// power 3/5 (F. Roddier 1981, The effects of atmospheric turbulence in optical
// astronomy, Progress in Optics 19: r0 goes as cos z to the 3/5).
func (c *Choice) weigh(w Wish, lowest, highest float64) {
	add := func(cost float64, r Reason) {
		c.cost += cost
		if r != "" {
			c.Reasons = append(c.Reasons, r)
		}
	}
	if still := c.Drift < 1; !w.Tracking {
		r := Reason("")
		switch {
		case still:
			r = Still
		case c.Drift < 8:
			r = Slow
		}
		add(driftCost*c.Drift/SiderealRate, r)
	}
	blur := math.Pow(math.Sin(max(lowest, 5)*deg), -0.6) - 1
	switch {
	case lowest >= 45:
		add(blur, High)
	case lowest < 30:
		add(blur, Low)
	default:
		add(blur, "")
	}
	if w.Target != nil {
		apart := separation(*w.Target, c.Horizontal)
		r := Reason("")
		if apart < 30 {
			r = NearThere
		}
		add(targetCost*apart/90, r)
	}
	if c.Pair {
		add(pairCost, Double)
	} else {
		add(0, Single)
	}
	if c.V < 0.5 {
		add(0, Brilliant)
	} else {
		add(faintCost*(c.V-0.5), Enough)
	}
	if highest > 80 && !w.Tracking {
		add(overheadCost, Overhead)
	}
	switch rise := c.Later - c.AltitudeDeg; {
	case rise > 2:
		add(0, Rising)
	case rise < -2:
		add(0, Sinking)
	}
}
