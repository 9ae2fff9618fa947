package setup

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

var sound = []question{
	{
		id:   "output",
		when: func(d *draft) bool { return len(d.outputs) > 1 },
		found: func(d *draft) string {
			var names []string
			for i, name := range d.outputs {
				names = append(names, fmt.Sprintf("%d, %s", i+1, name))
			}
			return d.w().say("outputs", strings.Join(names, "; "))
		},
		show: func(d *draft) string {
			if d.Sound.Output == "default" || d.Sound.Output == "none" {
				return d.w().term(term(d.Sound.Output))
			}
			return d.Sound.Output
		},
		take: func(d *draft, line string) error {
			n, err := number(line)
			switch i := int(n); {
			case err != nil || n != math.Trunc(n) || i > len(d.outputs):
				return slipOf("not-output", line)
			case i == 0:
				d.Sound.Output = "default"
			default:
				d.Sound.Output = d.outputs[i-1]
			}
			return nil
		},
	},
	{
		id:   "wireless",
		show: func(d *draft) string { return d.w().yes(d.wireless) },
		take: func(d *draft, line string) (err error) {
			was := d.wireless
			d.wireless, err = d.w().yesNo(line)
			switch {
			case !d.wireless:
				d.Sound.DelayMS = 0
			case !was || d.Sound.DelayMS == 0:
				d.Sound.DelayMS = wirelessDelay
			}
			delete(d.settled, "delay")
			return err
		},
	},
	{
		id:   "delay",
		when: func(d *draft) bool { return d.wireless },
		show: func(d *draft) string { return d.w().amount(d.Sound.DelayMS, "ms") },
		take: func(d *draft, line string) error {
			x, err := number(d.w().bare(line, "ms", "ms"))
			if err != nil {
				return err
			}
			d.Sound.DelayMS = round(x)
			return within("sound.delay_ms", "the-delay", "ms", d.Sound.DelayMS)
		},
	},
	{
		id:   "speed",
		show: func(d *draft) string { return d.w().amount(d.Voice.SpeedWPM, "wpm") },
		take: func(d *draft, line string) error {
			x, named := speeds[d.w().which(line, "slow", "normal", "fast")]
			if !named {
				var err error
				if x, err = number(line); err != nil {
					return slipOf("no-speed", line)
				}
			}
			d.Voice.SpeedWPM = round(x)
			return within("voice.speed_wpm", "the-speed", "wpm", d.Voice.SpeedWPM)
		},
	},
	{
		id:   "pace",
		show: func(d *draft) string { return d.w().term(term(d.Coach.Pace)) },
		take: func(d *draft, line string) error {
			pace := d.w().which(line, keys["coach.pace"].Choices...)
			if pace == "" {
				return slipOf("no-pace", line)
			}
			d.Coach.Pace = pace
			return nil
		},
	},
}

// tongueQuestion is asked first: set-up goes on in it.
var tongueQuestion = []question{
	{
		id:   "language",
		ask:  func(d *draft) any { return ownName(d) },
		show: ownName,
		take: func(d *draft, line string) error {
			if code := d.w().language(line); code != "" {
				d.Voice.Language = code
				return nil
			}
			return slipOf("no-language", line)
		},
	},
}

// ownName is what the language calls itself.
func ownName(d *draft) string {
	return ownNames[slices.Index(keys["voice.language"].Choices, d.Voice.Language)]
}

// wirelessDelay is that of a usual wireless earpiece, ms (common practice, no source).
const wirelessDelay = 200

var speeds = map[string]float64{"slow": 120, "normal": 160, "fast": 220}

// ownNames are the languages by their own names, in the order of the setting's choices.
var ownNames = strings.Fields("English Deutsch Français Español Italiano Português Nederlands Polski Svenska")

// language is the code of what a person calls a language, "" for none.
func (w *tongue) language(line string) string {
	for i, code := range keys["voice.language"].Choices {
		name := plain(line)
		if name == code || name == strings.ToLower(ownNames[i]) ||
			name == strings.Split(w.Sections["answers"]["languages"], "|")[i] || name == strings.Split(tongues["en"].Sections["answers"]["languages"], "|")[i] {
			return code
		}
	}
	return ""
}
