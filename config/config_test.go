package config

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"halocue/vision/visiontest"
)

func TestShippedFileIsTheDefaults(t *testing.T) {
	c, err := Parse(Shipped)
	if err != nil {
		t.Fatal(err)
	}
	if want := Default(); !reflect.DeepEqual(c, want) {
		t.Errorf("halocue.toml and Default differ:\n%+v\n%+v", c, want)
	}
	var tree map[string]map[string]any
	if err := toml.Unmarshal([]byte(Shipped), &tree); err != nil {
		t.Fatal(err)
	}
	for _, k := range Keys() {
		section, name, _ := strings.Cut(k.Path, ".")
		if _, ok := tree[section][name]; !ok {
			t.Errorf("halocue.toml does not show %s", k.Path)
		}
		if k.Flag == "" || k.Help == "" {
			t.Errorf("%s has no flag or no help", k.Path)
		}
	}
}

func TestFlagsAreDistinct(t *testing.T) {
	seen := map[string]string{}
	for _, k := range Keys() {
		if other, twice := seen[k.Flag]; twice {
			t.Errorf("--%s is both %s and %s", k.Flag, other, k.Path)
		}
		seen[k.Flag] = k.Path
	}
}

// Each line is a mistake that a person makes and what the answer must hold: the
// key, and what to do.
func TestRefusals(t *testing.T) {
	const knobs = `
[[mirror_cell.knobs]]
name = "a"
clock = 12
[[mirror_cell.knobs]]
name = "b"
clock = 4
[[mirror_cell.knobs]]
`
	for name, c := range map[string]struct{ text, want string }{
		"negative aperture":     {"[telescope]\naperture_mm = -200", "telescope.aperture_mm is -200 mm: it must be from 30 to 2000 mm"},
		"aperture in metres":    {"[telescope]\naperture_mm = 0.2", "from 30 to 2000 mm"},
		"nan":                   {"[camera]\nbarlow = nan", "camera.barlow is not a number"},
		"infinite":              {"[telescope]\nfocal_length_mm = inf", "from 100 to 20000 mm"},
		"unknown key":           {"[telescope]\napperture_mm = 200", `"telescope.apperture_mm" is not a setting; the nearest is "telescope.aperture_mm"`},
		"unknown section":       {"[telescop]\naperture_mm = 200", `"telescop" is not a setting; the nearest is "telescope"`},
		"key without section":   {"aperture_mm = 200", `"aperture_mm" is not a setting; the nearest is "telescope.aperture_mm"`},
		"unknown key of knob":   {knobs + "nmae = \"c\"\nclock = 8", `the nearest is "mirror_cell.knobs.name"`},
		"text for a number":     {"[telescope]\naperture_mm = \"big\"", "telescope.aperture_mm"},
		"number for a yes":      {"[telescope]\ncorrector = 1", "telescope.corrector"},
		"choice":                {"[mirror_cell]\nkind = \"glue\"", "one of spring, push-pull, screws"},
		"two knobs":             {"[mirror_cell]\nknobs = [{name = \"a\", clock = 1}, {name = \"b\", clock = 5}]", "lists 2: a mirror has three"},
		"same name":             {knobs + "name = \"A\"\nclock = 8", `two are called "A"`},
		"same place":            {knobs + "name = \"c\"\nclock = 0.5", "less than one hour"},
		"clock":                 {knobs + "name = \"c\"\nclock = 13", "from 0 to 12 o'clock"},
		"called a command":      {knobs + "name = \"Stop\"\nclock = 8", "taken for a command"},
		"called a number":       {knobs + "name = \"9\"\nclock = 8", "taken for a command or a number"},
		"nameless":              {knobs + "name = \" \"\nclock = 8", "cannot be spoken"},
		"focal ratio":           {"[telescope]\naperture_mm = 1000\nfocal_length_mm = 200", "focal ratio of 0.2"},
		"secondary":             {"[telescope]\naperture_mm = 200\nfocal_length_mm = 1000\nsecondary_mm = 180", "0.9 of the aperture"},
		"secondary too far":     {"[telescope]\naperture_mm = 200\nfocal_length_mm = 1000\nsecondary_distance_mm = 1200", "not below the focal length"},
		"one centre":            {"[camera]\ncentre_px = [100]", "has 1 numbers"},
		"centre off the frame":  {"[camera]\ncentre_px = [-5, 20]", "from 0 to 20000 px"},
		"tone that stays":       {"[sound]\nlowest_hz = 400\nhighest_hz = 500", "half an octave"},
		"voice without command": {"[voice]\nengine = \"command\"", "voice.command is empty"},
		"not toml":              {"[telescope\naperture_mm = 200", "line 1"},
		"twice":                 {"[camera]\nbarlow = 1\nbarlow = 2", "barlow is already defined"},
		"zero byte inside":      {"[camera]\nsource = \"a\\u0000b\"", "control character"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse(c.text)
			if err == nil {
				t.Fatal("accepted")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q does not hold %q", err, c.want)
			}
		})
	}
}

func TestEachOverTheOneBefore(t *testing.T) {
	file := filepath.Join(t.TempDir(), "mine.toml")
	text := "[telescope]\naperture_mm = 150\nfocal_length_mm = 750\nsecondary_mm = 40\n[sound]\nvolume = 0.5\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	c, err := Load(Sources{
		File:  file,
		Env:   []string{"HALOCUE_TELESCOPE_APERTURE_MM=203", "HALOCUE_TELESCOPE_FOCAL_LENGTH_MM=1200", "HALOCUE_CAMERA_CENTRE_PX=10,20.5", "OTHER=1"},
		Flags: map[string]string{"focal-length-mm": "1000", "locks": "true", "knobs": "one=0, two=4, three=8"},
	})
	if err != nil {
		t.Fatal(err)
	}
	want := Default()
	want.Telescope = Telescope{ApertureMM: 203, FocalLengthMM: 1000, SecondaryMM: 40}
	want.Camera.CentrePX = []float64{10, 20.5}
	want.Sound.Volume = 0.5
	want.MirrorCell.Locks = true
	want.MirrorCell.Knobs = []Knob{{"one", 0}, {"two", 4}, {"three", 8}}
	want.File = file
	if !reflect.DeepEqual(c, want) {
		t.Errorf("got  %+v\nwant %+v", c, want)
	}
}

func TestVariablesAndFlagsAreRefusedByName(t *testing.T) {
	for _, c := range []struct {
		s    Sources
		want string
	}{
		{Sources{Env: []string{"HALOCUE_TELESCOPE_APERTURE=200"}}, `the nearest is "HALOCUE_TELESCOPE_APERTURE_MM"`},
		{Sources{Env: []string{"HALOCUE_SITE_LATITUDE=north"}}, "variable HALOCUE_SITE_LATITUDE: site.latitude is \"north\": write a number in degrees, with a point and no comma"},
		{Sources{Env: []string{"HALOCUE_TELESCOPE_CORRECTOR=perhaps"}}, "write true or false"},
		{Sources{Flags: map[string]string{"aperture": "3"}}, `the nearest is "aperture-mm"`},
		{Sources{Flags: map[string]string{"latitude": "91"}}, "flag --latitude: site.latitude is 91 degrees"},
		{Sources{Flags: map[string]string{"knobs": "left"}}, "left-hand=8"},
	} {
		_, err := Load(c.s)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: %v, want %q", c.s, err, c.want)
		}
	}
}

func TestWhereTheFileIsLookedFor(t *testing.T) {
	home := t.TempDir()
	write := func(dir, text string) string {
		p := filepath.Join(home, dir, "halocue", "halocue.toml")
		if err := os.MkdirAll(filepath.Dir(p), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	plain := write(".config", "")
	xdg := write("xdg", "")
	named := write("named", "")
	for _, c := range []struct {
		env  []string
		want string
	}{
		{[]string{"HOME=" + home}, plain},
		{[]string{"HOME=" + home, "XDG_CONFIG_HOME=" + filepath.Join(home, "xdg")}, xdg},
		{[]string{"HOME=" + home, "HALOCUE_CONFIG=" + named}, named},
	} {
		got, err := Load(Sources{Env: c.env})
		if err != nil || got.File != c.want {
			t.Errorf("%v: %q, %v; want %q", c.env, got.File, err, c.want)
		}
	}
	if _, err := Load(Sources{File: filepath.Join(home, "gone.toml")}); err == nil {
		t.Error("a named file that is not there was accepted")
	}
	if _, err := Load(Sources{File: home}); err == nil || !strings.Contains(err.Error(), "not a settings file") {
		t.Errorf("a folder as the file: %v", err)
	}
	if _, err := Load(Sources{Env: []string{"HALOCUE_CONFIG=/dev/zero"}}); err == nil {
		t.Error("/dev/zero was accepted")
	}
}

func TestValidateWantsTheTwoNumbersAndNoCorrector(t *testing.T) {
	c := Default()
	if err := c.Validate(); err == nil || !strings.Contains(err.Error(), "--aperture-mm") {
		t.Errorf("no telescope: %v", err)
	}
	c.Telescope.ApertureMM = 200
	if err := c.Validate(); err == nil || !strings.Contains(err.Error(), "--focal-length-mm") {
		t.Errorf("no focal length: %v", err)
	}
	c.Telescope.FocalLengthMM = 1000
	if err := c.Validate(); err != nil {
		t.Errorf("a telescope: %v", err)
	}
	c.Telescope.Corrector = true
	if err := c.Validate(); err == nil || !strings.Contains(err.Error(), "take it out first") {
		t.Errorf("corrector: %v", err)
	}
}

// A thin magnifier m behind a 200 mm F/5: traced by hand through the formulas of
// internal/optics, once at the mirror's own focus and once behind the lens.
func TestBarlowScalesThePixelOnly(t *testing.T) {
	c := Default()
	c.Telescope = Telescope{ApertureMM: 200, FocalLengthMM: 1000, SecondaryMM: 50}
	c.Camera.PixelUM, c.Camera.Barlow = 5, 2
	pixel, assumed := c.Camera.Pixel()
	if pixel != 0.0025 || assumed {
		t.Fatalf("pixel %g mm, assumed %v", pixel, assumed)
	}
	// 1.39 mm at the mirror's focus is the tolerance of F/5, a 9.8 um offset there
	// (design of the measurement: (1-eps^2) F / 480 mm), so 19.5 um behind the lens.
	tel := c.Optics()
	offset := tel.OffsetPerField() * tel.Tolerance() / pixel // px
	behind := (1 - 0.0625) * 5.0 / 480 * 2 / 0.005           // px
	if math.Abs(offset/behind-1) > 0.01 {
		t.Errorf("the tolerance is %.3f px of offset, want %.3f", offset, behind)
	}
	if _, assumed := Default().Camera.Pixel(); !assumed {
		t.Error("a pixel nobody gave is not called assumed")
	}
}

func TestScrews(t *testing.T) {
	c := Default()
	c.Telescope.ApertureMM = 200
	if r := c.ScrewRadius(); r != 84 {
		t.Errorf("assumed screw circle %g", r)
	}
	c.MirrorCell.ScrewCircleRadiusMM = 90
	if r := c.ScrewRadius(); r != 90 {
		t.Errorf("screw circle %g", r)
	}
}

// Distances of the textbook: kitten to sitting is 3 (Levenshtein's distance, the
// usual example; from memory).
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "", 3}, {"flaw", "lawn", 2}, {"same", "same", 0}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

// The tree is what the file would hold: written as TOML it reads back the same.
func TestTreeReadsBack(t *testing.T) {
	want := Default()
	want.Telescope = Telescope{ApertureMM: 203, FocalLengthMM: 1000}
	want.Camera.CentrePX = []float64{10, 20.5}
	knobs := []map[string]any{}
	tree := want.Tree()
	for _, k := range want.MirrorCell.Knobs {
		knobs = append(knobs, map[string]any{"name": k.Name, "clock": k.Clock})
	}
	tree["mirror_cell"]["knobs"] = knobs
	text, err := toml.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := Parse(string(text)); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v\n%+v\n%+v", err, got, want)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(Shipped)
	f.Add("[telescope]\naperture_mm = -1")
	f.Add("[[mirror_cell.knobs]]\nname = 3")
	f.Add("mirror_cell = 3\n\"a.b\" = {}")
	f.Add("[" + strings.Repeat("a.", 20000) + "a]")
	f.Add("x = " + strings.Repeat("{a = ", 5000) + "1" + strings.Repeat("}", 5000))
	f.Add("[sound]\nvolume = 9999999999999999999999")
	f.Fuzz(func(t *testing.T, text string) {
		var c Config
		var err error
		visiontest.Bounded(t, func() { c, err = Parse(text) })
		if err == nil && c.Check() != nil {
			t.Errorf("accepted what Check refuses: %v", c.Check())
		}
		if err != nil && len(err.Error()) > 4096+len(text) {
			t.Error("an endless message")
		}
	})
}

// A service keeps what was spoken with its state, a person among what can be made again.
func TestWhereWordsAreKept(t *testing.T) {
	for want, env := range map[string][]string{
		"/var/lib/halocue/voice":  {"STATE_DIRECTORY=/var/lib/halocue:/var/lib/more", "HOME=/", "XDG_CACHE_HOME=/c"},
		"/c/halocue/voice":        {"XDG_CACHE_HOME=/c", "HOME=/h"},
		"/h/.cache/halocue/voice": {"HOME=/h"},
		"":                        nil,
	} {
		if c, err := Load(Sources{Env: env}); err != nil || c.Voice.Cache != want {
			t.Errorf("%v: %q, %v; want %q", env, c.Voice.Cache, err, want)
		}
	}
}
