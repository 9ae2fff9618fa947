package prompts

import "slices"

// What is said by day, with a camera at a peephole in the focuser.
var indoorsEntries = []Entry{
	{Code: "indoors", Action: "warn", Class: Tell, Stale: 60},
	{Code: "secondary-step", Action: "tell", Class: Tell, Stale: 60, SilencedBy: blind},
	{Code: "margin-even", Action: "tell", Class: Tell, Stale: 10, SilencedBy: blind},
	{Code: "primary-step", Action: "tell", Class: Tell, Stale: 30, SilencedBy: blind},
	{Code: "half-turn", Action: "half-turn", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "quarter-turn", Action: "half-turn", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "plug-unturned", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: blind},
	{Code: "peephole-off", Action: "tell", Class: Tell, Stale: 20, SilencedBy: blind},
	{Code: "mark-off", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: blind},
	{Code: "no-mark", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: blind},
	{Code: "no-spot", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: blind},
	{Code: "no-mirror", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "no-secondary", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "no-edge", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "dim", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "secondary-off", Action: "tell", Class: Tell, Stale: 30, SilencedBy: blind},
	{Code: "screw-limit", Action: "warn", Class: Warn, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "rough-done", Action: "done", Class: Halt, Variants: []string{"rough", "unchecked", "given-up"}, Args: []string{"next"}, Stale: 60, Cuts: cutHands},
}

// byDay reports whether a code is said by day only.
func byDay(code string) bool {
	return slices.ContainsFunc(indoorsEntries, func(e Entry) bool { return e.Code == code })
}
