// Package audio is the sound of halocue: one mixing desk that holds the words,
// the tone and the short signals, and the sinks that pull samples out of it.
//
// A Desk makes no sound by itself. Whoever pulls decides what time is: the sound
// device pulls by the wall clock (package audio/device), File and Null are pulled
// by the frame clock, as fast as the machine can. So a night replayed is heard
// sample for sample as it was.
//
// Everything is 48 kHz, mono in its content, and the same in both channels: one
// ear, one hearing aid or one small loudspeaker loses nothing.
package audio

// Rate is the sample rate of everything here, in samples a second.
const Rate = 48000

// samples is the number of samples in so many seconds.
func samples(seconds float64) int { return int(seconds*Rate + 0.5) }
