package audio_test

import (
	"fmt"

	"halocue/audio"
)

// What the tone does while the mirror comes true: pitch and pulses rise.
func ExampleMapping() {
	var m audio.Mapping // the usual tone
	for _, tolerances := range []float64{12, 3, 1, 0.25} {
		t := audio.Tone{State: audio.Trim, Error: tolerances, Sigma: 0.1}
		fmt.Printf("%5.2f tolerances: %3.0f Hz, %.1f pulses a second\n", tolerances, m.Hz(t), m.PulsesPerSecond(t))
	}
	// Output:
	// 12.00 tolerances: 220 Hz, 1.0 pulses a second
	//  3.00 tolerances: 361 Hz, 2.1 pulses a second
	//  1.00 tolerances: 536 Hz, 3.8 pulses a second
	//  0.25 tolerances: 880 Hz, 8.0 pulses a second
}

// Samples are pulled out of a mixer by a sound card, by a file, or as here by a call.
func ExampleMixer() {
	mixer := audio.NewMixer(audio.Settings{})
	mixer.SetTone(audio.Tone{State: audio.Inside})
	pcm := make([][2]float64, audio.Rate) // one second
	mixer.Stream(pcm)
	loudest := 0.0
	for _, s := range pcm {
		loudest = max(loudest, s[0], -s[0])
	}
	fmt.Printf("after %.0f second the loudest sample is above silence: %t, and below full scale: %t\n", mixer.Time(), loudest > 0.01, loudest < 1)
	// Output:
	// after 1 second the loudest sample is above silence: true, and below full scale: true
}
