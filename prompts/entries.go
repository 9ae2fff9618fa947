package prompts

// Conditions under which guidance is not said.
var blind = []string{"camera-lost", "camera-stalled", "no-camera"}

// The classes that are cut short, by how urgent a cue is.
var (
	cutAll   = []Class{Chat, Tell, Warn, Instruct, Halt}
	cutHands = []Class{Chat, Instruct}
	cutChat  = []Class{Chat}
)

// Things for the hands to do.
var handEntries = []Entry{
	{Code: "turn", Action: "turn", Class: Instruct, Variants: []string{"tighten", "loosen"}, Stale: 3, Cuts: cutHands, SilencedBy: blind},
	{Code: "too-far", Action: "turn", Class: Instruct, Stale: 3, Cuts: cutHands, SilencedBy: blind},
	{Code: "wrong-knob", Action: "stop", Class: Halt, Stale: 2, Cuts: cutAll[:4], SilencedBy: blind},
	{Code: "wrong-way", Action: "stop", Class: Halt, Stale: 2, Cuts: cutAll[:4], SilencedBy: blind},
	{Code: "two-defocuses", Action: "defocus", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "no-movement", Action: "turn", Class: Instruct, Stale: 5, Cuts: cutChat, SilencedBy: blind},
	{Code: "put-back", Action: "turn", Class: Instruct, Stale: 3, Cuts: cutHands, SilencedBy: blind},
	{Code: "stop", Action: "stop", Class: Halt, Stale: 1, Cuts: cutAll[:4]},
	{Code: "one-knob", Action: "wait", Class: Instruct, Stale: 3, Cuts: cutHands, SilencedBy: blind},
	{Code: "knocked", Action: "wait", Class: Instruct, Stale: 3, Cuts: cutHands, SilencedBy: blind, Quiet: 10},
	{Code: "recentre", Action: "recentre", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "recentre-past", Action: "recentre", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "recentre-other-way", Action: "recentre", Class: Instruct, Stale: 2, Cuts: cutHands, SilencedBy: blind},
	{Code: "recentre-same", Action: "recentre", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "recentre-same-half", Action: "recentre", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "recentre-other-half", Action: "recentre", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "star-lost-knob", Action: "turn", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "defocus", Action: "defocus", Class: Instruct, Variants: []string{"more", "less"}, Stale: 8, Cuts: cutHands, SilencedBy: blind},
	{Code: "other-side", Action: "other-side", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	// What motors do instead of hands; they begin when the words have ended.
	{Code: "drive-centre", Action: "wait", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "drive-focus", Action: "wait", Class: Instruct, Stale: 8, Cuts: cutHands, SilencedBy: blind},
	{Code: "drive-through", Action: "wait", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "lock", Action: "lock", Class: Instruct, Variants: []string{"release", "snug"}, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "done", Action: "done", Class: Halt, Variants: []string{"aligned", "as-good-as-the-air-allows", "given-up"},
		Stale: 60, Cuts: cutHands},
}

// What the coach noticed.
var noticeEntries = []Entry{
	{Code: "drive-stopped", Action: "warn", Class: Warn, Stale: 10, Cuts: cutHands},
	{Code: "lock-pulls", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "thread-end", Action: "warn", Class: Warn, Stale: 8, Cuts: cutHands, SilencedBy: blind},
	{Code: "secondary-size", Action: "tell", Class: Tell, Stale: 30, SilencedBy: blind},
	{Code: "pixel-size", Action: "warn", Class: Warn, Stale: 30, Cuts: cutChat, SilencedBy: blind},
	{Code: "sides-disagree", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat, SilencedBy: blind},
	{Code: "flop", Action: "warn", Class: Warn, Stale: 20, Cuts: cutChat},
	{Code: "astigmatism", Action: "tell", Class: Tell, Stale: 60, SilencedBy: blind},
	{Code: "spherical", Action: "tell", Class: Tell, Stale: 60, SilencedBy: blind},
	{Code: "measuring", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat, SilencedBy: blind, Quiet: 8},
	{Code: "centred", Action: "tell", Class: Tell, Stale: 3, SilencedBy: blind, Quiet: 3},
}

// What the sky and the camera show.
var skyEntries = []Entry{
	{Code: "too-bright", Action: "warn", Class: Danger, Cuts: cutAll},
	{Code: "find-star", Action: "recentre", Class: Instruct, Stale: 20, Cuts: cutChat, SilencedBy: blind},
	{Code: "star-lost", Action: "recentre", Class: Instruct, Stale: 5, Cuts: cutHands, SilencedBy: blind},
	{Code: "clouded", Action: "warn", Class: Warn, Stale: 8, Cuts: cutHands, SilencedBy: blind},
	{Code: "cleared", Action: "tell", Class: Tell, Stale: 4, SilencedBy: blind, Quiet: 3},
	{Code: "focused", Action: "defocus", Class: Instruct, Stale: 8, Cuts: cutHands, SilencedBy: blind},
	{Code: "no-shadow", Action: "defocus", Class: Instruct, Stale: 8, Cuts: cutHands, SilencedBy: blind},
	{Code: "no-shadow-still", Action: "warn", Class: Warn, Stale: 8, Cuts: cutChat, SilencedBy: blind},
	{Code: "clipped", Action: "defocus", Class: Instruct, Stale: 10, Cuts: cutHands, SilencedBy: blind},
	{Code: "faint", Action: "warn", Class: Warn, Stale: 10, Cuts: cutChat, SilencedBy: blind},
	{Code: "blurred", Action: "warn", Class: Warn, Stale: 8, Cuts: cutChat, SilencedBy: blind},
	{Code: "dew", Action: "warn", Class: Warn, After: 20, Stale: 30, Every: 300, Cuts: cutChat, SilencedBy: blind},
	{Code: "two-stars", Action: "warn", Class: Warn, Stale: 15, Cuts: cutChat, SilencedBy: blind},
}

// The state of the instrument itself, said by the guide.
var systemEntries = []Entry{
	{Code: "welcome", Action: "tell", Class: Tell, Stale: 60},
	{Code: "cautions", Action: "warn", Class: Tell, Stale: 60},
	{Code: "daylight", Action: "warn", Class: Warn},
	{Code: "starting", Action: "tell", Class: Tell, Stale: 10},
	{Code: "resuming", Action: "tell", Class: Tell, Stale: 10},
	{Code: "ending", Action: "tell", Class: Tell, Stale: 30, Cuts: cutHands},
	{Code: "stream-ended", Action: "tell", Class: Tell, Stale: 30, Cuts: cutHands},
	{Code: "no-camera", Action: "warn", Class: Warn, After: 0.5, Every: 30, Cuts: cutHands},
	{Code: "camera-lost", Action: "warn", Class: Warn, Every: 30, Cuts: cutHands},
	{Code: "camera-stalled", Action: "warn", Class: Warn, After: 2, Every: 30, Cuts: cutHands, SilencedBy: []string{"camera-lost", "no-camera"}},
	{Code: "camera-back", Action: "tell", Class: Tell, Stale: 20, Cuts: cutChat}, // it ends "hands off", so it must be heard, even after an instruction
	{Code: "bad-frames", Action: "warn", Class: Warn, After: 3, Every: 60, Cuts: cutChat, SilencedBy: blind},
	{Code: "sound-lost", Action: "warn", Class: Warn, After: 0.5, Every: 60, Cuts: cutChat, NoRepeat: true},
	{Code: "sound-back", Action: "tell", Class: Tell, Stale: 10, Cuts: cutHands, NoRepeat: true},
	{Code: "voice-lost", Action: "warn", Class: Warn, After: 1, Every: 120},
	{Code: "microphone-lost", Action: "warn", Class: Warn, After: 2, Stale: 30, Cuts: cutChat},
	{Code: "english-only", Action: "tell", Class: Tell, Stale: 60},
	{Code: "remote-lost", Action: "warn", Class: Warn, After: 2, Stale: 30, Cuts: cutChat},
	{Code: "remote-back", Action: "tell", Class: Tell, Stale: 10},
	{Code: "drive-lost", Action: "warn", Class: Warn, Stale: 60, Cuts: cutChat},
	{Code: "disk-full", Action: "warn", Class: Warn, After: 1, Cuts: cutChat},
	{Code: "journal-new", Action: "warn", Class: Warn, After: 1, Cuts: cutChat},
	{Code: "journal-off", Action: "warn", Class: Warn, After: 1, Cuts: cutChat},
	{Code: "exposure-fixed", Action: "warn", Class: Warn, After: 1, Cuts: cutChat},
	{Code: "record-off", Action: "warn", Class: Warn, After: 1, Cuts: cutChat},
	{Code: "low-power", Action: "warn", Class: Warn, After: 2, Cuts: cutChat},
	{Code: "low-memory", Action: "warn", Class: Warn, After: 5, Cuts: cutChat},
	{Code: "overload", Action: "warn", Class: Warn, After: 10, Cuts: cutChat},
}

// Answers to what the person said or pressed.
var answerEntries = []Entry{
	{Code: "going-on", Action: "tell", Class: Tell, Stale: 3, Cuts: cutChat, NoRepeat: true},
	{Code: "paused", Action: "wait", Class: Instruct, Stale: 5, Cuts: cutHands, NoRepeat: true},
	{Code: "ready", Action: "tell", Class: Tell, Stale: 8, Cuts: cutChat, SilencedBy: blind, NoRepeat: true},
	{Code: "take-time", Action: "tell", Class: Tell, Stale: 5, Cuts: cutChat, NoRepeat: true},
	{Code: "nothing-to-repeat", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat, NoRepeat: true},
	{Code: "louder", Action: "tell", Class: Tell, Stale: 3, Cuts: cutChat, NoRepeat: true},
	{Code: "quieter", Action: "tell", Class: Tell, Stale: 3, Cuts: cutChat, NoRepeat: true},
	{Code: "faster", Action: "tell", Class: Tell, Stale: 3, Cuts: cutChat, NoRepeat: true},
	{Code: "slower", Action: "tell", Class: Tell, Stale: 3, Cuts: cutChat, NoRepeat: true},
	{Code: "undone", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat, NoRepeat: true},
	{Code: "nothing-to-undo", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat, NoRepeat: true},
	{Code: "cannot-now", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat, NoRepeat: true},
	{Code: "which-knob", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat},
	{Code: "status", Action: "tell", Class: Tell, Stale: 4, Cuts: cutChat},
	{Code: "score", Action: "tell", Class: Chat, Stale: 0.5, NoRepeat: true},
	{Code: "help", Action: "tell", Class: Chat, Stale: 10},
	{Code: "star", Action: "tell", Class: Tell, Variants: []string{"named", "sun-up", "none", "no-place", "no-clock"},
		Stale: 20, Cuts: cutChat},
	{Code: "practice-start", Action: "tell", Class: Tell, Stale: 60, NoRepeat: true},
	{Code: "practice-knob", Action: "tell", Class: Tell, Stale: 60, NoRepeat: true},
	{Code: "practice-press", Action: "tell", Class: Tell, Stale: 60, NoRepeat: true},
	{Code: "practice-keys", Action: "tell", Class: Tell, Stale: 60, NoRepeat: true},
	{Code: "practice-went", Action: "tell", Class: Tell, Variants: []string{"untouched", "worse", "unfinished", "not-true", "well"}, Stale: 60},
}

// What is said around the sounds while they are learned, on the first night.
var lessonEntries = []Entry{
	{Code: "lesson", Action: "tell", Class: Chat, NoRepeat: true,
		Variants: []string{"start", "far", "coming", "inside", "stop", "lost", "trouble", "try", "well", "later"}},
}

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
	{Code: "rough-done", Action: "done", Class: Halt, Variants: []string{"rough", "unchecked", "given-up"}, Stale: 60, Cuts: cutHands},
}
