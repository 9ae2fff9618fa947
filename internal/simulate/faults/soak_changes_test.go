package faults

import (
	"sort"

	"halocue/audio/command"
	"halocue/internal/run"
)

// change is what a device or a person does at a time.
type change struct {
	t       float64
	event   run.DeviceEvent
	command command.Command
}

// told are the faults that devices report themselves.
var told = map[string]struct{ device, code string }{
	"unplugged": {"camera", "camera-lost"}, "sound": {"sound", "sound-lost"}, "voice": {"voice", "voice-lost"},
	"power": {"power", "low-power"}, "memory": {"memory", "low-memory"},
}

// asks are the commands that change nothing of the night.
var asks = []command.Command{command.Repeat, command.Louder, command.Quieter, command.Faster, command.Help, command.Status, command.WhichKnob, command.Next}

// changes are those of the faults, in order.
func changes(faults []fault) (list []change) {
	for _, f := range faults {
		if f.kind == "command" {
			list = append(list, change{t: f.from, command: asks[int(f.size*float64(len(asks)))]})
		}
		if d, ok := told[f.kind]; ok {
			e := run.DeviceEvent{Device: d.device, State: "lost", Code: d.code, On: true}
			list = append(list, change{t: f.from, event: e})
			e.State, e.On = "back", false
			list = append(list, change{t: f.to, event: e})
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].t < list[j].t })
	return list
}

// pass makes the changes up to a time.
func (n *session) pass(t float64) {
	n.t = t
	for ; n.next < len(n.changes) && n.changes[n.next].t <= t; n.next++ {
		if c := n.changes[n.next]; c.command != "" {
			n.commands <- c.command
		} else {
			n.devices <- c.event
		}
	}
}
