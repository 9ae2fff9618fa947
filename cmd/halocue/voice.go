package main

import (
	"fmt"
	"strings"

	"halocue/config"
)

// mixed is the settings for sound that nobody hears while it is made: that goes into
// a file, or nowhere, or runs by the frame clock. A voice that is heard by itself has
// no part in that; espeak-ng takes its place, and that is told.
func (a *app) mixed(c config.Config, frames bool) config.Config {
	file := strings.HasSuffix(strings.ToLower(c.Sound.Output), ".wav")
	if c.Voice.Engine == "speech-dispatcher" && (frames || file || c.Sound.Output == "none") {
		c.Voice.Engine = "espeak-ng"
		fmt.Fprintln(a.stderr, "halocue: speech-dispatcher cannot be recorded; espeak-ng speaks in its place")
	}
	return c
}
