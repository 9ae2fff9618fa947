// Package prompts is what halocue says: the catalogue of cues (code, class,
// patience, what silences what), their words in each language, and the
// Narrator, which decides what is said next.
//
// Everything here is pure: times are parameters (seconds since the start of
// the night), nothing is read, written or played. The words are data, in
// text/LANGUAGE.toml, so that they can be improved without programming; see
// TRANSLATING.md. The voices that speak them are in package prompts/voice.
//
// The order of a cue is: which knob, what to do, how much. The same thing is
// always said the same way, and short: every word costs seconds with a hand
// on cold metal.
package prompts
