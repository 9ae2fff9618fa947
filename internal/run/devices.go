package run

import (
	"errors"
	"syscall"

	"halocue/internal/observe"
	"halocue/prompts"
)

// backs are the words for what is there again.
var backs = map[string]string{
	"camera-lost": "camera-back", "camera-stalled": "camera-back", "no-camera": "camera-back",
	"sound-lost": "sound-back", "remote-lost": "remote-back",
}

// soundAgain is the least time between two times that it is said that the sound is back, s:
// of a device that comes and goes, the sound itself tells.
const soundAgain = 60

// device writes down what happened to a device, and has it said. That a device is
// back is said where its absence was heard; of the sound in any case, for its absence
// could not be heard.
func (n *night) device(t float64, e DeviceEvent) {
	n.record(deviceEvent{t, "device", e.Device, e.State, e.Detail, e.Code, e.On})
	if e.Code == "" {
		return
	}
	back := backs[e.Code]
	told := !e.On && back != "" && n.Narrator.Heard(e.Code)
	n.note(n.Narrator.Set(t, prompts.Cue{Code: e.Code}, e.On))
	if e.Code == "sound-lost" {
		told = n.mute && !e.On && (n.soundBack == 0 || t-n.soundBack > soundAgain)
		n.mute = e.On
		if told {
			n.soundBack = t
		}
	}
	if told {
		n.note(n.Narrator.Add(t, prompts.Cue{Code: back}))
	}
	if n.unheard && !n.mute { // how it ended
		n.note(n.Narrator.Repeat(t))
	}
}

// unwritten says why the night is not written down any more.
func (n *night) unwritten(err error) {
	code := "journal-off"
	if errors.Is(err, syscall.ENOSPC) {
		code = "disk-full"
	}
	n.device(n.now, DeviceEvent{Device: "journal", State: "lost", Detail: err.Error(), Code: code, On: true})
}

// damage is the part of the latest frames that could not be read.
type damage struct {
	part float64
	told bool
}

const (
	// perFrame is the weight of one frame in that part, which forgets in some ten frames.
	perFrame = 0.1
	// spoilt is the part from which on little can be told, mended the one at which
	// enough can.
	spoilt, mended = 0.6, 0.2
)

// bad takes in a frame that could not be read.
func (n *night) bad(t float64) {
	n.outcome.Bad++
	n.damage(t, 1)
	n.take(t, observe.Sight{T: t, Why: observe.Unreadable})
}

// good takes in the measurement of a frame.
func (n *night) good(t float64, s observe.Sight) {
	n.damage(t, 0)
	if likely, news := n.dew.see(s); news {
		n.note(n.Narrator.Set(t, prompts.Cue{Code: "dew"}, likely))
	}
	n.take(t, s)
}

func (n *night) damage(t, frame float64) {
	d := &n.damaged
	d.part += perFrame * (frame - d.part)
	if now := d.part > spoilt || d.told && d.part > mended; now != d.told {
		d.told = now
		state := map[bool]string{true: "damaged", false: "back"}[now]
		n.device(t, DeviceEvent{Device: "camera", State: state, Code: "bad-frames", On: now})
	}
}
