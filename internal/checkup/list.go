package checkup

import (
	"encoding/json"
	"fmt"

	"halocue/audio/device"
	"halocue/internal/run/parts"
	"halocue/vision/camera"
)

// listed is the JSON line of a device.
type listed struct {
	Kind   string `json:"kind"` // camera or sound
	Number string `json:"number"`
	Name   string `json:"name"`
}

// List prints the cameras and sound devices that there are, a line each, by the number
// that --camera and --sound take.
func List(w *parts.World, asJSON bool) error {
	var all []listed
	for _, c := range camera.List() {
		all = append(all, listed{"camera", c.Source, c.Name})
	}
	names, err := device.Outputs()
	for i, name := range names {
		all = append(all, listed{"sound", fmt.Sprint(i + 1), name})
	}
	has := map[string]bool{}
	for _, l := range all {
		has[l.Kind] = true
		if asJSON {
			err = json.NewEncoder(w.Stdout).Encode(l)
		} else {
			_, err = fmt.Fprintf(w.Stdout, "--%s %s: %s\n", l.Kind, l.Number, l.Name)
		}
		if err != nil {
			return err
		}
	}
	if !has["camera"] {
		fmt.Fprintln(w.Stderr, "halocue: no camera is connected: plug it in; other cameras are named by an address or a folder, see docs/cameras.md")
	}
	if !has["sound"] {
		fmt.Fprintln(w.Stderr, "halocue: no sound device: plug in earphones or a loudspeaker, and start the sound server (PipeWire or PulseAudio)")
	}
	return err
}
