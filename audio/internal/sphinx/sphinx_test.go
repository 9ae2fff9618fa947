package sphinx

import (
	"context"
	"encoding/binary"
	"os/exec"
	"strings"
	"testing"
)

// spoken is a sentence by espeak-ng through sox: mono, 16 kHz, with silence around.
func spoken(t *testing.T, text string) []int16 {
	t.Helper()
	cmd := exec.Command("sh", "-c", `espeak-ng -v en-us -s 160 --stdout "$0" | sox -q -t wav --ignore-length - -t raw -r 16000 -c 1 -b 16 -e signed - pad 0.3 0.3`, text)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("espeak-ng and sox (packages espeak-ng, sox): %v", err)
	}
	pcm := make([]int16, len(out)/2)
	for i := range pcm {
		pcm[i] = int16(binary.LittleEndian.Uint16(out[2*i:]))
	}
	return pcm
}

func decoder(t *testing.T, pattern string) *Decoder {
	t.Helper()
	g, err := Parse(pattern)
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(Config{Grammar: g, Filler: 1e-3})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return d
}

func TestSentencesAndOthers(t *testing.T) {
	d := decoder(t, "okay halo (volume (up|down)|say [it] again)")
	for text, want := range map[string]string{
		"okay halo, volume up":                    "okay halo volume up",
		"okay halo, volume down":                  "okay halo volume down",
		"okay halo, say again":                    "okay halo say again",
		"okay halo, say it again":                 "okay halo say it again",
		"the quick brown fox jumps over":          "",
		"volume up":                               "",
		"tomorrow we shall look at the other one": "",
	} {
		got, err := d.Decode(context.Background(), spoken(t, text))
		if err != nil || got != want {
			t.Errorf("%q was understood as %q, want %q (%v)", text, got, want, err)
		}
	}
}

func TestBeginning(t *testing.T) {
	d := decoder(t, "okay halo volume (up|down)")
	for text, want := range map[string]string{
		"okay halo, volume up":                    "okay halo volume up",
		"okay halo, the weather is fine tomorrow": "okay halo",
		"the quick brown fox":                     "",
	} {
		words, whole, err := d.Beginning(context.Background(), spoken(t, text))
		if err != nil || words != want || whole != (text == "okay halo, volume up") {
			t.Errorf("%q begins with %q, whole %t, want %q (%v)", text, words, whole, want, err)
		}
	}
}

func TestBadPatterns(t *testing.T) {
	for _, p := range []string{"", "a (b", "a b)", "a [b)", "|"} {
		if _, err := Parse(p); err == nil {
			t.Errorf("%q is taken", p)
		}
	}
	g, err := Parse("xyzzy")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := New(Config{Grammar: g}); err == nil || !strings.Contains(err.Error(), `"xyzzy"`) {
		t.Errorf("an unknown word: %v", err)
	}
}
