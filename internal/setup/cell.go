package setup

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"halocue/config"
)

var cell = []question{
	{
		id:   "kind",
		show: func(d *draft) string { return d.w().term(term(d.MirrorCell.Kind)) },
		take: func(d *draft, line string) error {
			kind := d.w().which(line, "spring", "push-pull", "screws")
			if kind == "" {
				return slipOf("not-kind", line)
			}
			d.MirrorCell.Kind = kind
			return nil
		},
	},
	{
		id: "thread",
		show: func(d *draft) string {
			turn := d.w().term("turn-is", d.w().amount(d.MirrorCell.ScrewPitchMM, "mm"))
			if d.thread == "" {
				return turn
			}
			return d.thread + ", " + turn
		},
		take: func(d *draft, line string) error {
			name, pitch, err := parseThread(line)
			if err != nil {
				return err
			}
			d.thread, d.MirrorCell.ScrewPitchMM = name, round(pitch)
			return within("mirror_cell.screw_pitch_mm", "a-turn", "mm", d.MirrorCell.ScrewPitchMM)
		},
	},
	yesOrNo("locks", func(d *draft) *bool { return &d.MirrorCell.Locks }),
}

// ids of the questions about knob i.
func clockID(i int) string { return fmt.Sprintf("knob-%d-clock", i+1) }
func nameID(i int) string  { return fmt.Sprintf("knob-%d-name", i+1) }

// knobs are the two questions about knob i. A skipped name is the one that the
// knob has, or one that goes with its place.
func knobs(i int) []question {
	return []question{
		{
			id:   clockID(i),
			show: func(d *draft) string { return d.w().clockFace(d.MirrorCell.Knobs[i].Clock) },
			take: func(d *draft, line string) error {
				hour, err := d.w().clock(line)
				if err != nil {
					return err
				}
				if hour != d.MirrorCell.Knobs[i].Clock {
					d.MirrorCell.Knobs[i].Clock = hour
					if !d.settled[nameID(i)] {
						d.MirrorCell.Knobs[i].Name = ""
					}
				}
				return apart(d, i)
			},
			skip: func(d *draft) error { return apart(d, i) },
		},
		{
			id:   nameID(i),
			ask:  func(d *draft) any { return d.w().name(suggestion(d, i)) },
			show: func(d *draft) string { return d.w().name(d.MirrorCell.Knobs[i].Name) },
			take: func(d *draft, line string) error {
				name := d.w().knob(plain(line))
				d.MirrorCell.Knobs[i].Name = name
				if err := named(d, i); err != nil {
					return err
				}
				return heard(d)
			},
			skip: func(d *draft) error {
				d.MirrorCell.Knobs[i].Name = suggestion(d, i)
				return named(d, i)
			},
		},
	}
}

// apart reports whether knob i stands where none of those that are settled does.
func apart(d *draft, i int) error {
	for j, k := range d.MirrorCell.Knobs {
		gap := math.Abs(k.Clock - d.MirrorCell.Knobs[i].Clock)
		if j != i && d.settled[clockID(j)] && min(gap, 12-gap) < 1 {
			return slipOf("same-place", []term{"first", "second", "third"}[j], d.w().clockFace(k.Clock))
		}
	}
	return nil
}

func named(d *draft, i int) error {
	name := d.MirrorCell.Knobs[i].Name
	if !strings.ContainsFunc(name, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
		return slipOf("unspoken")
	}
	if _, notYes := d.w().yesNo(name); notYes == nil || config.TakenName(name) {
		return slipOf("taken-name")
	}
	if len([]rune(name)) > config.LongestName {
		return slipOf("long-name", config.LongestName)
	}
	for j, k := range d.MirrorCell.Knobs {
		if j != i && d.settled[nameID(j)] && alike(k.Name) == alike(name) {
			return slipOf("same-name", d.w().name(k.Name))
		}
	}
	return nil
}

// heard warns once of each pair of names that sound alike.
func heard(d *draft) error {
	named := slices.DeleteFunc(slices.Clone(d.MirrorCell.Knobs), func(k config.Knob) bool { return k.Name == "" })
	for _, pair := range d.alike(d.Voice, named) {
		if !d.warned[pair] {
			d.warned[pair] = true
			return slipOf("alike", pair[0], pair[1])
		}
	}
	return nil
}

// alike folds what the ear cannot tell apart.
func alike(name string) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, name))
}

// suggestion is a name for knob i: its own, or that of its place, which no other
// knob has.
func suggestion(d *draft, i int) string {
	side, height := "left", "upper"
	hour := d.MirrorCell.Knobs[i].Clock
	if hour > 0 && hour < 6 {
		side = "right"
	}
	if hour > 3 && hour < 9 {
		height = "lower"
	}
	names := []string{d.MirrorCell.Knobs[i].Name, side + "-hand", height + "-" + side, d.w().Sections["names"]["one-bump"], d.w().Sections["names"]["two-bumps"], d.w().Sections["names"]["three-bumps"]}
	if hour >= 11 || hour <= 1 {
		names[1] = "upper"
	} else if hour >= 5 && hour <= 7 {
		names[1] = "bottom"
	}
	for _, name := range names {
		trial := d.clone()
		trial.MirrorCell.Knobs[i].Name = name
		if named(trial, i) == nil {
			return name
		}
	}
	return fmt.Sprintf("%d", i+1)
}

// clockFace says an hour: 8 o'clock, 8:30.
func (w *tongue) clockFace(hour float64) string {
	minutes := int(math.Round(hour * 60))
	h := cmp.Or(minutes/60, 12)
	if minutes%60 == 0 {
		return w.term("oclock", h)
	}
	return fmt.Sprintf("%d:%02d", h, minutes%60)
}

// knob is the name in the settings of what a person calls a knob: one that the voice has
// in each language, or the person's own.
func (w *tongue) knob(name string) string {
	for _, known := range []string{"left-hand", "right-hand", "upper", "bottom", "upper-left", "upper-right", "lower-left", "lower-right"} {
		if alike(name) == alike(w.Sections["names"][known]) {
			return known
		}
	}
	return name
}

// walk is how far the knobs are from the focuser.
var walk = []question{{
	id:   "walk",
	show: func(d *draft) string { return d.w().known(d.Coach.WalkSteps, "steps") },
	take: func(d *draft, line string) error {
		steps, err := number(d.w().bare(line, "steps"))
		if err != nil {
			return err
		}
		d.Coach.WalkSteps = math.Round(steps)
		return within("coach.walk_steps", "the-walk", "steps", d.Coach.WalkSteps)
	},
	unknown: func(d *draft) { d.Coach.WalkSteps = 0 },
}}
