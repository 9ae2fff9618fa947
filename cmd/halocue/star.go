package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"halocue/config"
	"halocue/internal/sky"
)

// starFlags are the flags of star that are no settings.
type starFlags struct {
	at, target               string
	json, tracking, daylight bool
	number                   int
}

func newStarCommand(a *app) *cobra.Command {
	var g starFlags
	cmd := &cobra.Command{
		Use:   "star",
		Short: "Tell which star to point at, now and for the next hour",
		Long: `Tells which stars suit, the best first, and where they stand: bright enough,
high, single, and slow where the mount does not follow the sky. A fist at arm's
length covers ten degrees. The first is spoken too; --sound none prints only. It
needs the place, from the settings or from --latitude and --longitude.

Never point a telescope at the Sun, nor sweep past it. While the Sun is up this
command names no star unless you say --daylight.`,
		Example: "halocue star --latitude 51.5 --longitude -0.1 --at 2026-12-01T21:00:00Z",
		Args:    noArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return a.star(cmd, g) },
	}
	settingFlags(cmd, "site", "sound", "voice")
	f := cmd.Flags()
	for _, name := range []string{"curve", "delay-ms", "highest-hz", "lowest-hz", "microphone", "reference", "tone", "verbosity", "waveform"} {
		f.Lookup(name).Hidden = true // of the tone, which star does not play
	}
	f.StringVar(&g.at, "at", "", "`TIME` as in 2026-12-01T21:00:00Z or 2026-12-01T22:00:00+01:00; if not given, now")
	f.BoolVar(&g.json, "json", false, "print JSON lines, one for every star that suits")
	f.BoolVar(&g.tracking, "tracking", false, "the mount follows the sky")
	f.StringVar(&g.target, "target", "", "`WHERE` the telescope will be used: a bright star's name, or a direction such as south-east")
	f.BoolVar(&g.daylight, "daylight", false, "name stars although the Sun is up; none within 45 degrees of it")
	f.IntVar(&g.number, "number", 5, "`N` stars in the printed list, at most")
	return cmd
}

// starLine is a star as the JSON lines have it.
type starLine struct {
	Name     string  `json:"name"`
	Altitude float64 `json:"altitude_deg"` // apparent
	Azimuth  float64 `json:"azimuth_deg"`  // from north through east
	V        float64 `json:"v_mag"`
	Drift    float64 `json:"drift_arcsec_per_s"`
	Why      string  `json:"why"`
	Say      string  `json:"say"`
}

func (a *app) star(cmd *cobra.Command, g starFlags) error {
	c, err := a.settings(cmd)
	if err != nil {
		return err
	}
	lat, lon := cmd.Flags().Changed("latitude"), cmd.Flags().Changed("longitude")
	if lat != lon && (lat && c.Site.LongitudeDeg == 0 || lon && c.Site.LatitudeDeg == 0) {
		return usageError{errors.New("half a place: give both --latitude and --longitude, in degrees, north and east positive")}
	}
	w, err := g.wish(c, lat && lon)
	if err != nil {
		return err
	}
	sun := w.Site.Sun(w.At)
	if sky.Brightness(sun.AltitudeDeg) == sky.Day {
		if !w.Daylight {
			return sunIsUp(w, sun)
		}
		fmt.Fprintf(a.stderr, "halocue: DANGER: the Sun is up, %s. Light from it through a telescope blinds at once. Keep the tube covered until it points well away, and never sweep past the Sun.\n", sun.Point())
	}
	choices := sky.Choose(w)
	if len(choices) == 0 {
		return fmt.Errorf("no star that is bright enough stays %.0f degrees high for an hour from %s; try --at an hour later, or a lower --roof-line-deg", max(w.RoofDeg, 10), clock(w.At))
	}
	if g.json {
		out := json.NewEncoder(a.stdout)
		for _, s := range choices {
			if err := out.Encode(newStarLine(s, w.RoofDeg)); err != nil {
				return err
			}
		}
		return nil
	}
	if _, err = fmt.Fprint(a.stdout, starList(w, sun, choices[:min(len(choices), max(1, g.number))])); err != nil || c.Sound.Output == "none" {
		return err
	}
	return a.point(cmd.Context(), c, choices[0])
}

// wish reads what is asked for. given tells that the place is in the flags: there
// latitude and longitude may be 0.
func (g starFlags) wish(c config.Config, given bool) (sky.Wish, error) {
	if !c.Site.Known() && !given {
		return sky.Wish{}, fmt.Errorf("the place is not known; give --latitude and --longitude in degrees, north and east positive, or write them under [site] in the settings")
	}
	w := sky.Wish{
		Site: sky.Site{LatitudeDeg: c.Site.LatitudeDeg, LongitudeDeg: c.Site.LongitudeDeg},
		At:   time.Now(), RoofDeg: c.Site.RoofLineDeg, ApertureMM: c.Telescope.ApertureMM,
		Tracking: g.tracking, Daylight: g.daylight,
	}
	if g.at != "" {
		t, err := time.Parse(time.RFC3339, g.at)
		if err != nil {
			return w, usageError{fmt.Errorf("--at %q is not a time; write it as 2026-12-01T21:00:00Z, or with an offset in place of the Z, as in 2026-12-01T22:00:00+01:00", g.at)}
		}
		w.At = t
	}
	if g.target != "" {
		h, err := target(g.target, w)
		if err != nil {
			return w, err
		}
		w.Target = &h
	}
	return w, nil
}

// target reads where the telescope will be used. A direction means half-way up.
func target(words string, w sky.Wish) (sky.Horizontal, error) {
	if az, ok := sky.Wind(words); ok {
		return sky.Horizontal{AltitudeDeg: 45, AzimuthDeg: az}, nil
	}
	s, ok := sky.Named(words)
	if !ok {
		return sky.Horizontal{}, usageError{fmt.Errorf("--target %q: give a bright star's name, or a direction such as south-east", words)}
	}
	h, _ := w.Site.Look(s, w.At)
	return h, nil
}

// sunIsUp is the refusal by day, with when it will be dark enough.
func sunIsUp(w sky.Wish, sun sky.Horizontal) error {
	next := "it does not get dark within a day here: wait for another season"
	if t, ok := w.Site.SunDown(w.At); ok {
		next = "bright stars show from " + clock(t)
	}
	return fmt.Errorf("the Sun is up, %s: never point a telescope at it, nor sweep past it; %s; to be told of stars by day all the same, say --daylight", sun.Point(), next)
}

func newStarLine(s sky.Choice, roof float64) starLine {
	return starLine{
		Name: s.Name, Altitude: rounded(s.AltitudeDeg, 3), Azimuth: rounded(math.Mod(s.AzimuthDeg, 360), 3),
		V: s.V, Drift: rounded(s.Drift, 3), Why: s.Why(), Say: s.Say(roof),
	}
}

// rounded keeps so many decimals.
func rounded(v float64, digits int) float64 {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'f', digits, 64), 64) // of a number just written
	return v
}

func clock(t time.Time) string { return t.Format("2 January 15:04 MST") }

// starList is the list for a reader or a screen reader: a sentence a line.
func starList(w sky.Wish, sun sky.Horizontal, choices []sky.Choice) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s, and for the hour after: %s.\n", clock(w.At), place(w.Site), sky.Brightness(sun.AltitudeDeg))
	fmt.Fprintf(&b, "Point at %s\n", choices[0].Say(w.RoofDeg))
	for i, s := range choices {
		fmt.Fprintf(&b, "%d. %s, %s: altitude %.0f degrees, azimuth %.0f, magnitude %.1f, drift %.1f arcseconds a second. %s.\n",
			i+1, s.Name, s.Point(), s.AltitudeDeg, math.Mod(math.Round(s.AzimuthDeg), 360), s.V, s.Drift, sentence(s.Why()))
	}
	b.WriteString("A fist at arm's length covers ten degrees. Nothing loose over an open tube.\n")
	return b.String()
}

func place(s sky.Site) string {
	ns, ew := "north", "east"
	if s.LatitudeDeg < 0 {
		ns = "south"
	}
	if s.LongitudeDeg < 0 {
		ew = "west"
	}
	return fmt.Sprintf("%.2f degrees %s, %.2f degrees %s", math.Abs(s.LatitudeDeg), ns, math.Abs(s.LongitudeDeg), ew)
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
