package voice

import (
	"context"
	"errors"
	"fmt"
	"strconv"
)

// Config says which voice is wanted.
type Config struct {
	Engine   string   // "espeak-ng", "speech-dispatcher", "command" or "none"; "" is espeak-ng
	Command  []string // for "command": see Command.Argv
	Language string   // "en", "de", ...
	WPM      float64  // words a minute, slowest to fastest
	Cache    string   // folder in which what was spoken is kept, made where it is missing; "" for none

	// Report gets the errors of the engine; it may be nil. It is called from the
	// goroutine that speaks and must not block.
	Report func(error)
}

// New makes the voice, with what takes its place when it fails: for a command and
// for speech-dispatcher espeak-ng, for espeak-ng in English flite, and at last a silence of the words'
// length, so that a night goes on by the tone alone.
func New(c Config) (Voice, error) {
	espeak, err := Espeak(c.Language, c.WPM)
	if err != nil {
		return nil, err
	}
	silent := Silent{WPM: c.WPM}
	kept := func(v Command) Voice { return keep(v, c.Cache) }
	var voices []Voice
	switch c.Engine {
	case "none":
		return silent, nil
	case "command":
		if len(c.Command) == 0 {
			return nil, errors.New("the voice is a command, but none is given; set voice.command to a program that reads words and writes WAV")
		}
		voices = []Voice{kept(Command{Argv: c.Command, Remedy: "check voice.command, or choose the engine espeak-ng"}), kept(espeak)}
	case "speech-dispatcher":
		d, err := dialDispatcher(context.Background(), DispatcherConfig{Language: c.Language, WPM: c.WPM, Report: c.Report})
		if err == nil {
			voices = append(voices, d)
		} else if c.Report != nil {
			c.Report(err)
		}
		voices = append(voices, kept(espeak))
	case "espeak-ng", "":
		voices = []Voice{kept(espeak)}
		if c.Language == "en" {
			voices = append(voices, kept(fliteVoice(c.WPM)))
		}
	default:
		return nil, fmt.Errorf("there is no voice %q; choose espeak-ng, speech-dispatcher, command or none", c.Engine)
	}
	chain := func(voices ...Voice) (Voice, error) {
		return respell(newFallback(c.Report, append(voices, silent)...), c.Language)
	}
	own, err := chain(voices...)
	if err != nil || c.Language == "en" {
		return quoting{Voice: own}, err
	}
	pieces := own
	if c.Engine == "speech-dispatcher" { // which is heard by itself, and not in pieces
		if pieces, err = chain(kept(espeak)); err != nil {
			return nil, err
		}
	}
	english, err := Espeak("en", c.WPM)
	return quoting{own, pieces, newFallback(c.Report, kept(english), kept(fliteVoice(c.WPM)), silent)}, err
}

// fliteWPM is about how fast flite speaks by itself.
const fliteWPM = 150

// fliteVoice returns an English voice that is rounder than that of espeak-ng.
func fliteVoice(wpm float64) Command {
	return Command{
		Argv: []string{"flite", "-voice", "slt", "--setf", "duration_stretch=" + strconv.FormatFloat(fliteWPM/wpm, 'f', 3, 64),
			"-t", "{text}", "-o", "{out}"},
		Remedy: "install it (sudo apt install flite) or choose another voice",
	}
}
