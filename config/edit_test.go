package config

import (
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
)

const handmade = "# my dobson\r\n[telescope]\r\naperture_mm = 203 # measured twice\r\nfocal_length_mm=1_218\r\n\r\n# the camera\r\n[camera]\r\nsource = '''0''' # old one\r\ncentre_px = [ 640,\r\n  480 ] # taught\r\n# end of the file, no newline"

func TestEditKeepsEverythingElse(t *testing.T) {
	c, err := Parse(handmade)
	if err != nil {
		t.Fatal(err)
	}
	c.Camera.PixelUM, c.Camera.CentrePX, c.Telescope.FocalLengthMM, c.Camera.Source = 2.9, []float64{633.5, 470}, 1200, `a "quoted" one`
	c.Site.LatitudeDeg = -33.9
	got, err := Edit(handmade, c)
	if err != nil {
		t.Fatal(err)
	}
	want := "# my dobson\r\n[telescope]\r\naperture_mm = 203 # measured twice\r\nfocal_length_mm=1200\r\n\r\n# the camera\r\n[camera]\r\nsource = 'a \"quoted\" one' # old one\r\ncentre_px = [633.5, 470] # taught\r\npixel_um = 2.9\r\n# end of the file, no newline\r\n\r\n[site]\r\nlatitude = -33.9\r\n"
	if got != want {
		t.Errorf("got:\n%q\nwant:\n%q", got, want)
	}
}

func TestEditOfNothingChangesNothing(t *testing.T) {
	for _, text := range []string{"", handmade, Shipped} {
		c, err := Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := Edit(text, c); err != nil || got != text {
			t.Errorf("%v: %q became %q", err, text, got)
		}
	}
}

// What cannot be changed without loss is refused, never done.
func TestEditRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"a remark in a list": "[camera]\ncentre_px = [1, # here\n 2]\n",
		"inline knobs":       "[mirror_cell]\nknobs = [{name=\"a\", clock=1}, {name=\"b\", clock=5}, {name=\"c\", clock=9}]\n",
		"an inline table":    "camera = {centre_px = [1, 2]}\n",
	} {
		c, err := Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		c.Camera.CentrePX, c.MirrorCell.Knobs = []float64{3, 4}, []Knob{{"x", 1}, {"y", 5}, {"z", 9}}
		if got, err := Edit(text, c); err == nil {
			t.Errorf("%s: edited to %q", name, got)
		}
	}
	bad := Default()
	bad.Camera.PixelUM = 1000
	if _, err := Edit(handmade, bad); err == nil || !strings.Contains(err.Error(), "0.5 to 50") {
		t.Errorf("a value out of its range: %v", err)
	}
}

// Whatever is changed is read back, and no remark is lost.
func TestEditAtRandom(t *testing.T) {
	remark := regexp.MustCompile(`#.*`)
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 1))
		for _, text := range []string{handmade, Shipped} {
			c, err := Parse(text)
			if err != nil {
				t.Fatal(err)
			}
			c.Telescope.ApertureMM, c.Telescope.FocalLengthMM = 200+float64(r.IntN(50)), 1000+r.Float64()
			if r.IntN(2) == 0 {
				c.MirrorCell.Knobs = []Knob{{"red #1", 1}, {"two \"bumps\"", 5}, {"ein Höcker", 9.5}}
			}
			c.Camera.CentrePX = [][]float64{nil, {}, {r.Float64() * 1000, 3}}[r.IntN(3)]
			c.Sound.Microphone, c.Voice.Command = r.IntN(2) == 0, []string{"", "say = # [x]"}[r.IntN(2)]
			got, err := Edit(text, c) // which reads it back
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			for _, was := range remark.FindAllString(text, -1) {
				if !strings.Contains(got, was) {
					t.Fatalf("seed %d: %q is lost", seed, was)
				}
			}
		}
	}
}
