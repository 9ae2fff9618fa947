package setup

import "testing"

func TestWritten(t *testing.T) {
	for spoken, want := range map[string]string{
		"yes": "yes", "i don't know": "not known", "skip": "skip",
		"eight inches": "8 inches", "four and a half inches": "4.5 inches",
		"two hundred and three millimeters": "203 mm", "two hundred": "200", "one thousand two hundred millimeters": "1200 mm",
		"twelve hundred and fifty": "1250", "one point two meters": "1.2 m", "one thousand and five": "1005",
		"f six": "f6", "f five point nine": "f5.9", "m six": "m6", "quarter twenty": "1/4-20",
		"half past eight": "half past 8", "four o'clock": "4 o'clock", "top": "top", "left hand": "left-hand",
		"one bump": "one bump", "two bumps": "two bumps", "two": "2", "knobs on springs": "knobs on springs",
		"three point seven five microns": "3.75 um", "one hundred and eighty milliseconds": "180 ms",
		"one hundred and forty words a minute":           "140",
		"fifty one point five north zero point one west": "51.5 north 0.1 west",
	} {
		if got := Written(spoken); got != want {
			t.Errorf("%q is written %q, want %q", spoken, got, want)
		}
	}
}

// What is spoken can be read: each of these answers its question.
func TestSpokenAnswersAreTaken(t *testing.T) {
	c, _ := run(t, Written("english"), Written("eight inches"), Written("f six"), Written("yes"), Written("no"), Written("zero"), Written("three point seven five microns"),
		Written("knobs on springs"), Written("m six"), Written("no"), Written("half past eight"), Written("one bump"), Written("four o'clock"),
		Written("two bumps"), Written("top"), Written("skip"), Written("six"), Written("no"), Written("one hundred and forty words a minute"), "quick",
		Written("fifty one point five north zero point one west"), "yes")
	if c.Telescope.FocalLengthMM != 1218 || c.Camera.PixelUM != 3.75 || c.MirrorCell.ScrewPitchMM != 1 || c.MirrorCell.Knobs[0].Clock != 8.5 ||
		c.MirrorCell.Knobs[1].Name != "two bumps" || c.Voice.SpeedWPM != 140 || c.Site.LongitudeDeg != -0.1 {
		t.Errorf("%+v", c)
	}
}
