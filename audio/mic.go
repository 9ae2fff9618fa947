package audio

// MicRate is the rate of the microphone in samples a second: what recognisers of
// speech want.
const MicRate = 16000

// Frame is 20 ms from the microphone, mono.
type Frame [MicRate / 50]int16
