package setup

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"halocue/config"
)

var fileName = regexp.MustCompile(`^[\pL\pN]+(-[\pL\pN]+)*$`)

// FileName returns the settings file of a profile, halocue-NAME.toml. Spaces and
// underlines in the name become dashes, capitals small.
func FileName(profile string) (string, error) {
	name := strings.ToLower(strings.ReplaceAll(strings.ReplaceAll(tidy(profile), " ", "-"), "_", "-"))
	if !fileName.MatchString(name) || len([]rune(name)) > 40 {
		return "", slipOf("unnamed", profile)
	}
	return "halocue-" + name + ".toml", nil
}

// asked are the settings that set-up asks for: they are written even where they
// are the built-in ones.
var asked = map[string]bool{
	"telescope.aperture_mm": true, "telescope.focal_length_mm": true, "telescope.corrector": true,
	"camera.source": true, "camera.pixel_um": true,
	"drive.tracking": true, "mirror_cell.kind": true, "mirror_cell.screw_pitch_mm": true, "mirror_cell.locks": true,
	"sound.delay_ms": true, "voice.language": true, "voice.speed_wpm": true, "coach.pace": true,
}

// tomlOf returns a settings file that a person can read: what set-up asks for, and
// what else is not as built in, each with what it means. config.Parse of it gives
// c again.
func tomlOf(c config.Config) (string, error) {
	var b strings.Builder
	b.WriteString("# Settings of halocue, written by halocue setup. Change them here, or run it again.\n" +
		"# What is not written here keeps its built-in value; halocue settings shows everything.\n")
	now, builtIn, section := c.Tree(), config.Default().Tree(), ""
	for _, k := range config.Keys() {
		table, name, _ := strings.Cut(k.Path, ".")
		x := now[table][name]
		if k.Path == "mirror_cell.knobs" || !asked[k.Path] && reflect.DeepEqual(x, builtIn[table][name]) {
			continue
		}
		if table != section {
			if section == "mirror_cell" {
				if err := writeKnobs(&b, c.MirrorCell.Knobs); err != nil {
					return "", err
				}
			}
			section = table
			fmt.Fprintf(&b, "\n[%s]\n", section)
		}
		line, err := config.Entry(name, x)
		if err != nil {
			return "", fmt.Errorf("writing %s: %w; skip that question, and set it by hand", k.Path, err)
		}
		fmt.Fprintf(&b, "# %s%s\n%s\n", k.Help, inUnit(k), line)
	}
	text := b.String()
	again, err := config.Parse(text)
	if err != nil {
		return "", fmt.Errorf("reading the settings again before they are written: %w; answer that question again", err)
	}
	if !reflect.DeepEqual(again.Tree(), c.Tree()) {
		return "", errors.New("the settings would be read as others than were answered; answer again in plain letters")
	}
	return text, nil
}

func inUnit(k config.Key) string {
	if k.Unit == "" || k.Unit == "degrees" || k.Unit == "words a minute" {
		return ""
	}
	return ", " + k.Unit
}

func writeKnobs(b *strings.Builder, knobs []config.Knob) error {
	b.WriteString("\n# The knobs, seen from behind the mirror, the tube level: 12 is up, 3 is right.\n")
	for _, k := range knobs {
		name, err := config.Entry("name", k.Name)
		if err != nil {
			return fmt.Errorf("writing the name %q: %w; give that knob another", k.Name, err)
		}
		fmt.Fprintf(b, "[[mirror_cell.knobs]]\n%s\nclock = %v\n", name, k.Clock)
	}
	return nil
}
