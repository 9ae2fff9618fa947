package setup

import (
	"slices"
	"strings"
)

var sound = []question{
	{
		id:   "wireless",
		show: func(d *draft) string { return yes(d.wireless) },
		take: func(d *draft, line string) (err error) {
			was := d.wireless
			d.wireless, err = yesNo(line)
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
		show: func(d *draft) string { return amount(d.Sound.DelayMS, "milliseconds") },
		take: func(d *draft, line string) error {
			x, err := number(strings.TrimSuffix(strings.TrimSuffix(plain(line), "milliseconds"), "ms"))
			if err != nil {
				return err
			}
			d.Sound.DelayMS = round(x)
			return within("sound.delay_ms", "the delay", d.Sound.DelayMS)
		},
	},
	{
		id:   "speed",
		show: func(d *draft) string { return text(d.Voice.SpeedWPM) + " words a minute" },
		take: func(d *draft, line string) error {
			x, named := speeds[plain(line)]
			if !named {
				var err error
				if x, err = number(line); err != nil {
					return slipf("%q is no speed; say slow, normal, fast, or words a minute", line)
				}
			}
			d.Voice.SpeedWPM = round(x)
			return within("voice.speed_wpm", "the speed", d.Voice.SpeedWPM)
		},
	},
	{
		id:   "language",
		show: func(d *draft) string { return languageName(d.Voice.Language) },
		take: func(d *draft, line string) error {
			for _, l := range languages {
				if slices.Contains(l, plain(line)) {
					d.Voice.Language = l[0]
					return nil
				}
			}
			return slipf("I do not speak %q; say English, German, French, Spanish, Italian, Portuguese, Dutch, Polish or Swedish", line)
		},
	},
}

// wirelessDelay is that of a usual wireless earpiece, ms (common practice, no source).
const wirelessDelay = 200

var speeds = map[string]float64{"slow": 120, "slowly": 120, "normal": 160, "fast": 220}

// languages by code, English name and own name.
var languages = [][]string{
	{"en", "english"}, {"de", "german", "deutsch"}, {"fr", "french", "français", "francais"},
	{"es", "spanish", "español", "espanol"}, {"it", "italian", "italiano"}, {"pt", "portuguese", "português", "portugues"},
	{"nl", "dutch", "nederlands"}, {"pl", "polish", "polski"}, {"sv", "swedish", "svenska"},
}

func languageName(code string) string {
	for _, l := range languages {
		if l[0] == code {
			return sentenceCase(l[1])
		}
	}
	return code
}

func sentenceCase(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
