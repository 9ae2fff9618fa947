// Package audio is the sound of halocue: one mixer that holds the words,
// the tone and the short signals, and the sinks that pull samples out of it.
//
// A Mixer makes no sound by itself; a sink pulls samples out of it, and that is its
// clock. The sound device pulls by the wall clock (package audio/device). File and Null
// are pulled by the frame clock, as fast as the machine can, so that a night that is
// played again is the same to the sample.
//
// Everything is 48 kHz and the same in both channels, so that one ear, one hearing aid
// or one small loudspeaker is enough.
package audio

// Rate is the sample rate of everything here, in samples a second.
const Rate = 48000

// samples is the number of samples in so many seconds.
func samples(seconds float64) int { return int(seconds*Rate + 0.5) }
