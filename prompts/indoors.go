package prompts

import "slices"

// Conditions under which guidance by day is not said.
var unlit = append([]string{"dark"}, blind...)

// What is said by day, with a camera at a peephole in the focuser.
var indoorsEntries = []Entry{
	{Code: "indoors", Action: "warn", Class: Tell, Stale: 60},
	{Code: "secondary-step", Action: "tell", Class: Tell, Stale: 60, SilencedBy: unlit},
	{Code: "margin-even", Action: "tell", Class: Tell, Stale: 10, SilencedBy: unlit},
	{Code: "primary-step", Action: "tell", Class: Tell, Stale: 30, SilencedBy: unlit},
	{Code: "half-turn", Action: "half-turn", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: unlit},
	{Code: "quarter-turn", Action: "half-turn", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: unlit},
	{Code: "plug-unturned", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: unlit},
	{Code: "peephole-off", Action: "tell", Class: Tell, Stale: 20, SilencedBy: unlit},
	{Code: "mark-off", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: unlit},
	{Code: "no-mark", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: unlit},
	{Code: "no-spot", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: unlit},
	{Code: "no-mirror", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: unlit},
	{Code: "no-secondary", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: unlit},
	{Code: "no-edge", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: unlit},
	{Code: "dim", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "secondary-off", Action: "tell", Class: Tell, Stale: 30, SilencedBy: unlit},
	{Code: "screw-limit", Action: "warn", Class: Warn, Stale: 10, Cuts: cutHands, SilencedBy: unlit},
	{Code: "rough-done", Action: "done", Class: Halt, Variants: []string{"rough", "unchecked", "given-up"}, Args: []string{"next"}, Stale: 60, Cuts: cutHands},
}

// byDay reports whether a code is said by day only.
func byDay(code string) bool {
	return slices.ContainsFunc(indoorsEntries, func(e Entry) bool { return e.Code == code })
}
