package setup

import (
	"fmt"
	"math"
	"strings"
	"unicode"
)

var kinds = map[string]string{
	"1": "spring", "one": "spring", "spring": "spring", "springs": "spring", "knobs": "spring", "knobs on springs": "spring",
	"2": "push-pull", "two": "push-pull", "pairs": "push-pull", "push-pull": "push-pull", "push pull": "push-pull", "pairs of screws": "push-pull",
	"3": "screws", "three": "screws", "screws": "screws", "screws alone": "screws",
}

var cell = []question{
	{
		id: "kind",
		show: func(d *draft) string {
			return map[string]string{"spring": "knobs on springs", "push-pull": "pairs of screws", "screws": "screws alone"}[d.MirrorCell.Kind]
		},
		take: func(d *draft, line string) error {
			kind, ok := kinds[plain(line)]
			if !ok {
				return slipf("%q is none of the three; say one, two or three", line)
			}
			d.MirrorCell.Kind = kind
			return nil
		},
	},
	{
		id: "thread",
		show: func(d *draft) string {
			turn := "one turn is " + amount(d.MirrorCell.ScrewPitchMM, "millimetres")
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
			return within("mirror_cell.screw_pitch_mm", "one turn", d.MirrorCell.ScrewPitchMM)
		},
	},
	{
		id:   "locks",
		show: func(d *draft) string { return yes(d.MirrorCell.Locks) },
		take: func(d *draft, line string) (err error) {
			d.MirrorCell.Locks, err = yesNo(line)
			return err
		},
	},
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
			show: func(d *draft) string { return clockFace(d.MirrorCell.Knobs[i].Clock) },
			take: func(d *draft, line string) error {
				hour, err := clock(line)
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
			ask:  func(d *draft) any { return suggestion(d, i) },
			show: func(d *draft) string { return d.MirrorCell.Knobs[i].Name },
			take: func(d *draft, line string) error {
				name := strings.ToLower(tidy(line))
				if alike(name) == "top" || alike(name) == "stop" {
					return slip("top and stop sound alike in the wind; say a name such as upper or three bumps")
				}
				d.MirrorCell.Knobs[i].Name = name
				return named(d, i)
			},
			skip: func(d *draft) error {
				d.MirrorCell.Knobs[i].Name = suggestion(d, i)
				return named(d, i)
			},
		},
	}
}

// apart tells whether knob i stands where none of those that are settled does.
func apart(d *draft, i int) error {
	for j, k := range d.MirrorCell.Knobs {
		gap := math.Abs(k.Clock - d.MirrorCell.Knobs[i].Clock)
		if j != i && d.settled[clockID(j)] && min(gap, 12-gap) < 1 {
			return slipf("the %s knob stands at %s; say another hour, or back to correct it", []string{"first", "second", "third"}[j], clockFace(k.Clock))
		}
	}
	return nil
}

// longestName is what the settings allow, letters.
const longestName = 40

func named(d *draft, i int) error {
	name := d.MirrorCell.Knobs[i].Name
	if !strings.ContainsFunc(name, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
		return slip("that cannot be spoken; say a name such as left-hand or two bumps")
	}
	if len([]rune(name)) > longestName {
		return slipf("that is too long to hear at every turn; use at most %d letters", longestName)
	}
	for j, k := range d.MirrorCell.Knobs {
		if j != i && d.settled[nameID(j)] && alike(k.Name) == alike(name) {
			return slipf("another knob is called %s; say a name of its own", k.Name)
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
	names := []string{d.MirrorCell.Knobs[i].Name, side + "-hand", height + "-" + side, "one bump", "two bumps", "three bumps"}
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
func clockFace(hour float64) string {
	minutes := int(math.Round(hour * 60))
	h := minutes / 60
	if h == 0 {
		h = 12
	}
	if minutes%60 == 0 {
		return fmt.Sprintf("%d o'clock", h)
	}
	return fmt.Sprintf("%d:%02d", h, minutes%60)
}
