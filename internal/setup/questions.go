package setup

import (
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/floats/scalar"

	"halocue/config"
)

// draft is the settings as far as they have been answered.
type draft struct {
	config.Config
	wireless bool
	thread   string             // its name, "" where only the pitch is known
	settled  map[string]bool    // questions that were answered or skipped
	cameras  []Camera           // that were found
	outputs  []string           // devices that sound can come from
	warned   map[[2]string]bool // names that sound alike, of all drafts together
	alike    func(config.Voice, []config.Knob) [][2]string
}

// w is the tongue that the person has chosen.
func (d *draft) w() *tongue { return tongueOf(d.Voice.Language) }

func (d *draft) clone() *draft {
	c := *d
	c.MirrorCell.Knobs = slices.Clone(d.MirrorCell.Knobs)
	c.settled = map[string]bool{}
	for id := range d.settled {
		c.settled[id] = true
	}
	return &c
}

// question is one thing that set-up asks; its texts are in words/.
type question struct {
	id    string
	about term                       // what it is about, with others; "" for nothing
	found func(*draft) string        // what was found, said before it; nil: nothing
	when  func(*draft) bool          // nil: always
	ask   func(*draft) any           // what fills the text in, or nil
	show  func(*draft) string        // the answer as it stands
	take  func(*draft, string) error // an answer; a slip if it cannot be taken
	// skip is for a question that is skipped; nil: the answer stays as it stands.
	skip func(*draft) error
	// unknown is for "not known"; nil: as skip.
	unknown func(*draft)
}

func (q question) shown(d *draft) bool { return q.when == nil || q.when(d) }

var questions = slices.Concat(tongueQuestion, about("about-telescope", telescope), about("about-camera", camera), about("about-cell", cell),
	about("about-knobs", slices.Concat(knobs(0), knobs(1), knobs(2), walk)), about("about-sound", sound), place)

func about(what term, all []question) []question {
	for i := range all {
		all[i].about = what
	}
	return all
}

var keys = func() map[string]config.Key {
	byPath := map[string]config.Key{}
	for _, k := range config.Keys() {
		byPath[k.Path] = k
	}
	return byPath
}()

// within reports whether x is in the range of the setting, which is not 0.
func within(path string, what, unit term, x float64) error {
	k := keys[path]
	if x >= k.Min && x <= k.Max {
		return nil
	}
	return slipOf("beyond", what, x, k.Min, k.Max, unit)
}

// round keeps a ten-thousandth.
func round(x float64) float64 { return scalar.Round(x, 4) }

// yesOrNo is a question with no other answer, for a setting.
func yesOrNo(id string, setting func(*draft) *bool) question {
	return question{
		id:   id,
		show: func(d *draft) string { return d.w().yes(*setting(d)) },
		take: func(d *draft, line string) (err error) {
			*setting(d), err = d.w().yesNo(line)
			return err
		},
	}
}

var telescope = []question{
	{
		id:   "aperture",
		show: func(d *draft) string { return d.w().known(d.Telescope.ApertureMM, "mm") },
		take: func(d *draft, line string) error {
			x, err := length("telescope.aperture_mm", "the-aperture", line)
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
		show: func(d *draft) string { return d.w().known(d.Telescope.FocalLengthMM, "mm") },
		take: func(d *draft, line string) error {
			x, err := focalLength(d, line)
			if err != nil {
				return err
			}
			d.Telescope.FocalLengthMM = x
			return ratio(d)
		},
	},
	yesOrNo("tracking", func(d *draft) *bool { return &d.Drive.Tracking }),
	{
		id:   "corrector",
		show: func(d *draft) string { return d.w().yes(d.Telescope.Corrector) },
		take: func(d *draft, line string) (err error) {
			d.Telescope.Corrector, err = d.w().yesNo(line)
			delete(d.settled, "corrector-out")
			return err
		},
	},
	{
		id:   "corrector-out",
		when: func(d *draft) bool { return d.Telescope.Corrector },
		show: func(d *draft) string { return d.w().yes(!d.Telescope.Corrector) },
		take: func(d *draft, line string) error {
			out, err := d.w().yesNo(line)
			d.Telescope.Corrector = !out
			return err
		},
	},
}

// length reads a length in mm that is in the setting's range.
func length(path string, what term, line string) (float64, error) {
	x, err := millimetres(line)
	if err != nil {
		return 0, err
	}
	k := keys[path]
	if x = round(x); x < k.Min && x*inch >= k.Min && x*inch <= k.Max {
		return 0, slipOf("inches", what, x, x)
	}
	return x, within(path, what, "mm", x)
}

// focalLength reads a length, or a focal ratio where the aperture is known.
func focalLength(d *draft, line string) (float64, error) {
	rest, isRatio := strings.CutPrefix(plain(line), "f")
	if !isRatio {
		return length("telescope.focal_length_mm", "the-focal-length", line)
	}
	f, err := number(strings.TrimLeft(rest, "/ "))
	if err != nil {
		return 0, slipOf("no-ratio", line)
	}
	if d.Telescope.ApertureMM == 0 {
		return 0, slipOf("ratio-first")
	}
	x := round(f * d.Telescope.ApertureMM)
	return x, within("telescope.focal_length_mm", "the-focal-length", "mm", x)
}

// ratio reports whether aperture and focal length belong to one mirror; the limits
// are those of the settings.
func ratio(d *draft) error {
	t := d.Telescope
	if t.ApertureMM == 0 || t.FocalLengthMM == 0 {
		return nil
	}
	if f := t.FocalLengthMM / t.ApertureMM; f < 2 || f > 20 {
		return slipOf("wrong-ratio", math.Round(100*f)/100)
	}
	return nil
}

// cameraForm is what a camera is called, other than by a file's or folder's name: a number,
// a device, a pipe, a pipeline, an address, or virtual.
var cameraForm = regexp.MustCompile(`^(\d{1,3}|-|/dev/\S+|virtual(:\d+)?|.* ! .*|[a-z][a-z0-9+]*://.+)$`)

var camera = []question{
	{
		id: "camera",
		found: func(d *draft) string {
			var names []string
			for _, c := range d.cameras {
				names = append(names, c.Source+", "+c.Name)
			}
			if len(names) == 0 {
				return d.w().say("no-camera")
			}
			return d.w().say("cameras", strings.Join(names, "; "))
		},
		show: func(d *draft) string {
			for _, c := range d.cameras {
				if c.Source == d.Camera.Source {
					return c.Source + ", " + c.Name
				}
			}
			return d.Camera.Source
		},
		take: func(d *draft, line string) error {
			source := tidy(line)
			if n := slices.Index(counts, plain(source)); n >= 0 { // "zero"
				source = strconv.Itoa(n)
			}
			if !cameraForm.MatchString(source) {
				if _, err := os.Stat(source); err != nil {
					return slipOf("not-camera", line)
				}
			}
			d.Camera.Source = source
			return nil
		},
	},
	{
		id:   "pixel",
		show: func(d *draft) string { return d.w().known(d.Camera.PixelUM, "um") },
		take: func(d *draft, line string) error {
			x, err := number(d.w().bare(line, "um", "microns", "micron", "µm", "μm", "um"))
			if err != nil {
				return err
			}
			d.Camera.PixelUM = round(x)
			return within("camera.pixel_um", "a-pixel", "um", d.Camera.PixelUM)
		},
		unknown: func(d *draft) { d.Camera.PixelUM = 0 },
	},
}
