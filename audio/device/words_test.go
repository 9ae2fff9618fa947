package device

import (
	"context"
	"fmt"
	"os/exec"
	"testing"
	"time"

	"halocue/audio"
	"halocue/audio/listener"
	"halocue/audio/resample"
)

// PortAudio plays into a null sink; what is recorded from its monitor holds the
// words, understood by a recogniser, and the tone.
func TestToneAndWordsGoThroughTheCard(t *testing.T) {
	out, err := exec.Command("espeak-ng", "-v", "en-us", "-s", "160", "--stdout", "Left-hand knob, tighten slightly.").Output()
	if err != nil || len(out) < 44 {
		t.Fatalf("espeak-ng (package espeak-ng): %v", err)
	}
	pcm := make([]int16, (len(out)-44)/2)
	for i := range pcm {
		pcm[i] = int16(uint16(out[44+2*i]) | uint16(out[45+2*i])<<8)
	}
	pcm, err = resample.PCM(pcm, 22050, audio.Rate)
	if err != nil {
		t.Fatal(err)
	}
	d := audio.NewMixer(audio.Settings{})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2})
	card, _ := open(t, Config{Mixer: d})
	wrong := ""
	for range 6 { // a busy machine tears holes into what is played or recorded
		time.AfterFunc(time.Second, func() { d.Say(audio.FromPCM(pcm).Trimmed().Levelled(audio.SpeechLUFS)) })
		if wrong = missing(t, d, record(t, 4.5)); wrong == "" {
			return
		}
	}
	t.Errorf("%s; %d under-runs", wrong, card.UnderRuns())
}

// missing says what of the tone and the words is not in a recording; "" for nothing.
func missing(t *testing.T, d *audio.Mixer, heard []float64) string {
	t.Helper()
	if !hasTone(d, heard[:48000]) || !hasTone(d, heard[len(heard)-48000:]) {
		return "the tone is not there before and after the words"
	}
	l, err := listener.New(listener.Config{Sentences: []string{
		"(left hand|right hand|upper) knob (tighten|loosen) (slightly|a little|a quarter turn|half a turn)", "stop", "hands off"}})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	said, err := l.Hear(context.Background(), heard)
	if err != nil {
		t.Fatal(err)
	}
	rest, err := l.End(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if said = append(said, rest...); len(said) != 1 || said[0].Text != "left hand knob tighten slightly" {
		return fmt.Sprintf("heard %+v", said)
	}
	return ""
}
