package setup

import (
	"slices"
	"strconv"
	"strings"

	"halocue/config"
)

// draft is the settings as far as they have been answered.
type draft struct {
	config.Config
	wireless bool
	thread   string          // its name, "" where only the pitch is known
	settled  map[string]bool // questions that were answered or skipped
}

func (d *draft) clone() *draft {
	c := *d
	c.MirrorCell.Knobs = slices.Clone(d.MirrorCell.Knobs)
	c.settled = map[string]bool{}
	for id := range d.settled {
		c.settled[id] = true
	}
	return &c
}

// question is one thing that set-up asks; its texts are in words.toml.
type question struct {
	id   string
	when func(*draft) bool          // nil: always
	ask  func(*draft) any           // what fills the text in, or nil
	show func(*draft) string        // the answer as it stands
	take func(*draft, string) error // an answer; a slip if it cannot be taken
	// skip leaves the question open; nil: the answer stays as it stands.
	skip func(*draft) error
	// unknown is for "not known"; nil: as skip.
	unknown func(*draft)
}

func (q question) shown(d *draft) bool { return q.when == nil || q.when(d) }

var questions = slices.Concat(telescope, camera, cell, knobs(0), knobs(1), knobs(2), sound, place)

var keys = func() map[string]config.Key {
	byPath := map[string]config.Key{}
	for _, k := range config.Keys() {
		byPath[k.Path] = k
	}
	return byPath
}()

// within tells whether x is in the range of the setting, which is not 0.
func within(path, what string, x float64) error {
	k := keys[path]
	if x >= k.Min && x <= k.Max {
		return nil
	}
	return slipf("%s cannot be %s; say %s to %s %s", what, text(x), text(k.Min), text(k.Max), spoken(k.Unit))
}

// text writes a number without what nobody hears: 1.0583, 203.
func text(x float64) string {
	return strconv.FormatFloat(round(x), 'f', -1, 64)
}

// round keeps a ten-thousandth.
func round(x float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'f', 4, 64), 64)
	if err != nil {
		return x
	}
	return r
}

// spoken is a unit in full, for the voice.
func spoken(unit string) string {
	switch unit {
	case "mm":
		return "millimetres"
	case "µm":
		return "micrometres"
	case "ms":
		return "milliseconds"
	}
	return unit
}

func known(x float64, unit string) string {
	if x == 0 {
		return "not known"
	}
	return amount(x, unit)
}

// amount is a number and its unit, in the plural.
func amount(x float64, units string) string {
	if x == 1 {
		units = strings.TrimSuffix(units, "s")
	}
	return text(x) + " " + units
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

var telescope = []question{
	{
		id:   "aperture",
		show: func(d *draft) string { return known(d.Telescope.ApertureMM, "millimetres") },
		take: func(d *draft, line string) error {
			x, err := length("telescope.aperture_mm", "the aperture", line)
			if err != nil {
				return err
			}
			d.Telescope.ApertureMM = x
			if ratio(d) != nil {
				d.Telescope.FocalLengthMM = 0 // it belonged to another mirror
				delete(d.settled, "focal-length")
			}
			return nil
		},
	},
	{
		id:   "focal-length",
		show: func(d *draft) string { return known(d.Telescope.FocalLengthMM, "millimetres") },
		take: func(d *draft, line string) error {
			x, err := focalLength(d, line)
			if err != nil {
				return err
			}
			d.Telescope.FocalLengthMM = x
			return ratio(d)
		},
	},
	{
		id:   "corrector",
		show: func(d *draft) string { return yes(d.Telescope.Corrector) },
		take: func(d *draft, line string) (err error) {
			d.Telescope.Corrector, err = yesNo(line)
			delete(d.settled, "corrector-out")
			return err
		},
	},
	{
		id:   "corrector-out",
		when: func(d *draft) bool { return d.Telescope.Corrector },
		show: func(d *draft) string { return yes(!d.Telescope.Corrector) },
		take: func(d *draft, line string) error {
			out, err := yesNo(line)
			d.Telescope.Corrector = !out
			return err
		},
	},
}

// length reads a length in mm that is in the setting's range.
func length(path, what, line string) (float64, error) {
	x, err := millimetres(line)
	if err != nil {
		return 0, err
	}
	k := keys[path]
	if x = round(x); x < k.Min && x*inch >= k.Min && x*inch <= k.Max {
		return 0, slipf("%s cannot be %s millimetres; say %s inches, if you mean inches", what, text(x), text(x))
	}
	return x, within(path, what, x)
}

// focalLength reads a length, or a focal ratio where the aperture is known.
func focalLength(d *draft, line string) (float64, error) {
	rest, isRatio := strings.CutPrefix(plain(line), "f")
	if !isRatio {
		return length("telescope.focal_length_mm", "the focal length", line)
	}
	f, err := number(strings.TrimLeft(rest, "/ "))
	if err != nil {
		return 0, slipf("%q is no focal ratio; say it as f/5, or the focal length in millimetres", line)
	}
	if d.Telescope.ApertureMM == 0 {
		return 0, slip("a focal ratio needs the aperture; say back to give it, or the focal length in millimetres")
	}
	x := round(f * d.Telescope.ApertureMM)
	return x, within("telescope.focal_length_mm", "the focal length", x)
}

// ratio tells whether aperture and focal length belong to one mirror; the limits
// are those of the settings.
func ratio(d *draft) error {
	t := d.Telescope
	if t.ApertureMM == 0 || t.FocalLengthMM == 0 {
		return nil
	}
	if f := t.FocalLengthMM / t.ApertureMM; f < 2 || f > 20 {
		return slipf("that is a focal ratio of %.3g, and 2 to 20 is right; say the focal length again, or back for the aperture", f)
	}
	return nil
}

var camera = []question{
	{
		id:   "camera",
		show: func(d *draft) string { return d.Camera.Source },
		take: func(d *draft, line string) error {
			source := tidy(line)
			if n := slices.Index(counts, plain(source)); n >= 0 { // "zero"
				source = strconv.Itoa(n)
			}
			d.Camera.Source = source
			return nil
		},
	},
	{
		id:   "pixel",
		show: func(d *draft) string { return known(d.Camera.PixelUM, "micrometres") },
		take: func(d *draft, line string) error {
			t := plain(line)
			for _, tail := range []string{"micrometres", "micrometers", "microns", "micron", "µm", "μm", "um"} {
				t = strings.TrimSpace(strings.TrimSuffix(t, tail))
			}
			x, err := number(t)
			if err != nil {
				return err
			}
			d.Camera.PixelUM = round(x)
			return within("camera.pixel_um", "a pixel", d.Camera.PixelUM)
		},
		unknown: func(d *draft) { d.Camera.PixelUM = 0 },
	},
}
