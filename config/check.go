package config

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"halocue/internal/plain"
)

// ErrCorrector refuses a lens that hides the coma that is measured.
var ErrCorrector = errors.New("a coma corrector or a corrector lens hides the very coma that is measured: take it out first, then set corrector to false")

// Check returns the first error in the settings: a value out of its range, or values
// that contradict each other.
func (c Config) Check() error {
	v := reflect.ValueOf(c)
	for _, k := range Keys() {
		if err := k.checkValue(v.FieldByIndex(k.index).Interface()); err != nil {
			return err
		}
	}
	return errors.Join(c.Telescope.check(), c.Camera.check(), c.Drive.check(), checkKnobs(c.MirrorCell.Knobs), c.Sound.check(), c.Voice.check())
}

// Validate is Check, and also returns what keeps these settings from being used on a
// star: an unknown telescope, or a corrector in the light path.
func (c Config) Validate() error {
	if err := c.Check(); err != nil {
		return err
	}
	if c.Telescope.Corrector {
		return ErrCorrector
	}
	for _, x := range []struct {
		mm         float64
		what, flag string
		key        string
	}{
		{c.Telescope.ApertureMM, "aperture", "aperture-mm", "aperture_mm"},
		{c.Telescope.FocalLengthMM, "focal length", "focal-length-mm", "focal_length_mm"},
	} {
		if x.mm == 0 {
			return fmt.Errorf("the telescope's %s is not known: answer the questions of halocue setup, give --%s, or set %s under [telescope] in the settings file", x.what, x.flag, x.key)
		}
	}
	return nil
}

func (k Key) checkValue(value any) error {
	switch x := value.(type) {
	case float64:
		return k.check(x)
	case []float64:
		for _, y := range x {
			if err := k.check(y); err != nil {
				return err
			}
		}
	case string:
		if k.Choices != nil && !slices.Contains(k.Choices, x) {
			return fmt.Errorf("%s is %q: it must be one of %s", k.Path, x, strings.Join(k.Choices, ", "))
		}
		if strings.ContainsFunc(x, func(r rune) bool { return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) }) {
			return fmt.Errorf("%s holds a control character: write it again by hand", k.Path)
		}
	}
	return nil
}

func (t Telescope) check() error {
	if t.ApertureMM == 0 || t.FocalLengthMM == 0 {
		return nil
	}
	if f := t.FocalLengthMM / t.ApertureMM; f < 2 || f > 20 {
		return fmt.Errorf("telescope.focal_length_mm %g over telescope.aperture_mm %g is a focal ratio of %.3g: it must be from 2 to 20; check both", t.FocalLengthMM, t.ApertureMM, f)
	}
	if s := t.SecondaryMM / t.ApertureMM; s != 0 && (s < 0.05 || s > 0.6) {
		return fmt.Errorf("telescope.secondary_mm %g is %.2g of the aperture: it must be from 0.05 to 0.6 of it; give the minor axis in mm, or 0", t.SecondaryMM, s)
	}
	if t.SecondaryDistanceMM >= t.FocalLengthMM {
		return fmt.Errorf("telescope.secondary_distance_mm %g is not below the focal length of %g mm: measure from the main mirror to the secondary, or give 0", t.SecondaryDistanceMM, t.FocalLengthMM)
	}
	return nil
}

func (c Camera) check() error {
	if n := len(c.CentrePX); n != 0 && n != 2 {
		return fmt.Errorf("camera.centre_px has %d numbers: give x and y, or none for the frame's centre", n)
	}
	if strings.TrimSpace(c.Source) == "" {
		return errors.New("camera.source is empty: give a device number such as 0, a file, a folder or virtual")
	}
	return nil
}

func (d Drive) check() error {
	for _, x := range []struct{ key, address string }{{"mount", d.Mount}, {"focuser", d.Focuser}} {
		if x.address != "" && !strings.HasPrefix(x.address, "indi://") {
			return fmt.Errorf("drive.%s is %q: write the INDI server and the device, like indi://localhost/DEVICE, or leave it empty", x.key, x.address)
		}
	}
	return nil
}

func (s Sound) check() error {
	if s.HighestHZ < 1.5*s.LowestHZ {
		return fmt.Errorf("sound.highest_hz %g is less than half an octave above sound.lowest_hz %g: nobody hears the tone rise; spread them", s.HighestHZ, s.LowestHZ)
	}
	if strings.TrimSpace(s.Output) == "" {
		return errors.New("sound.output is empty: give default, none or a FILE.wav")
	}
	return nil
}

func (v Voice) check() error {
	if v.Engine == "command" && strings.TrimSpace(v.Command) == "" {
		return errors.New("voice.engine is command but voice.command is empty: name the program that speaks")
	}
	return nil
}

// LongestName bounds a knob's name, in letters: it is spoken at every cue.
const LongestName = 40

// speakable reports whether a voice can say a name, and a terminal show it: letters
// without what steers either, such as mark-up that a voice obeys.
func speakable(name string) bool {
	return plain.Visible(name) && len([]rune(name)) <= LongestName && !strings.ContainsFunc(name, func(r rune) bool {
		return !plain.Printable(r) && !unicode.In(r, unicode.Join_Control) || strings.ContainsRune("<>&{}[]\\", r)
	})
}

// commands are words that the program says or obeys: a knob called so would be mistaken.
var commands = []string{"stop", "halt", "wait", "go on", "next", "back", "undo", "repeat", "help", "status", "louder", "quieter",
	"faster", "slower", "finished", "star", "yes", "no", "skip", "quit"}

// TakenName reports whether a knob cannot have a name, since it is a command or a number.
func TakenName(name string) bool {
	name = strings.ToLower(strings.TrimSpace(name))
	return slices.Contains(commands, name) || strings.Trim(name, "0123456789.,-+ ") == ""
}

func checkKnobs(knobs []Knob) error {
	if len(knobs) != 3 {
		return fmt.Errorf("mirror_cell.knobs lists %d: a mirror has three, each with name and clock", len(knobs))
	}
	clock := Key{Path: "mirror_cell.knobs.clock", Unit: "o'clock", Min: 0, Max: 12}
	for i, k := range knobs {
		if err := clock.check(k.Clock); err != nil {
			return err
		}
		if !speakable(k.Name) {
			return fmt.Errorf("mirror_cell.knobs: the name %.60q cannot be spoken: give 1 to %d letters and figures", k.Name, LongestName)
		}
		if TakenName(k.Name) {
			return fmt.Errorf("mirror_cell.knobs: the name %q would be taken for a command or a number: name the knob by its place", k.Name)
		}
		for _, other := range knobs[:i] {
			if strings.EqualFold(strings.TrimSpace(k.Name), strings.TrimSpace(other.Name)) {
				return fmt.Errorf("mirror_cell.knobs: two are called %q: give each a name of its own", k.Name)
			}
			apart := math.Abs(k.Clock - other.Clock)
			if min(apart, 12-apart) < 1 {
				return fmt.Errorf("mirror_cell.knobs: %q and %q stand less than one hour of the clock apart: look at the mirror's back again", other.Name, k.Name)
			}
		}
	}
	return nil
}
