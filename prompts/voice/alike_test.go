package voice

import (
	"context"
	"math"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/language"

	"halocue/prompts"
)

// noisy is a voice in the wind: with white noise half as loud as itself.
type noisy struct {
	Voice
	chance *rand.Rand
}

func (n noisy) Speak(ctx context.Context, text string) (PCM, error) {
	pcm, err := n.Voice.Speak(ctx, text)
	power := 0.0
	for _, v := range pcm.Samples {
		power += float64(v) * float64(v)
	}
	sigma := math.Sqrt(power / float64(max(1, len(pcm.Samples))))
	for i, v := range pcm.Samples {
		pcm.Samples[i] = int16(max(-32768, min(32767, float64(v)/4+n.chance.NormFloat64()*sigma/8)))
	}
	return pcm, err
}

// Names that are warned of are mistaken for each other by a speech recogniser in noise far
// more often than others.
func TestAlikeNamesAreMistaken(t *testing.T) {
	program, err := exec.LookPath("pocketsphinx_batch")
	if err != nil {
		t.Fatal("pocketsphinx is not installed; make deps installs it")
	}
	names := strings.Fields("top stop left lift red rod rear near nose rose blue green far upper east north")
	pairs, err := Alike(context.Background(), "en", names)
	if err != nil {
		t.Fatal(err)
	}
	alike := func(a, b string) bool {
		return slices.Contains(pairs, [2]string{a, b}) || slices.Contains(pairs, [2]string{b, a})
	}
	for _, p := range [][2]string{{"top", "stop"}, {"left", "lift"}, {"red", "rod"}, {"nose", "rose"}, {"near", "rear"}} {
		if !alike(p[0], p[1]) {
			t.Errorf("%v are not warned of", p)
		}
	}
	if alike("blue", "red") || alike("near", "far") || alike("upper", "left") {
		t.Errorf("warned of %v", pairs)
	}
	chance := rand.New(rand.NewPCG(1, 2))
	mistaken, said := map[bool]float64{}, map[bool]float64{}
	for _, wpm := range []float64{140, 180} {
		espeak, err := Espeak("en", wpm)
		if err != nil {
			t.Fatal(err)
		}
		espeak.Timeout = time.Minute // of a busy machine
		texts := slices.Repeat(names, 3)
		heard := listen(t, program, "#JSGF V1.0;\ngrammar names;\npublic <name> = "+strings.Join(names, " | ")+";\n", "", noisy{espeak, chance}, texts)
		for i, text := range texts {
			for _, other := range names {
				if other != text {
					said[alike(text, other)]++
					if strings.TrimSpace(heard[i]) == other {
						mistaken[alike(text, other)]++
					}
				}
			}
		}
	}
	warned, other := mistaken[true]/said[true], mistaken[false]/said[false]
	t.Logf("warned of %v: mistaken %.1f %% of the time, others %.1f %%", pairs, 100*warned, 100*other)
	if warned < 3*other || warned < 0.03 {
		t.Errorf("names that are warned of are mistaken %.1f %% of the time, others %.1f %%: want three times as often", 100*warned, 100*other)
	}
}

// The names that the catalogue has in each language are told apart, but for letters.
func TestKnobNamesOfTheCatalogueAreToldApart(t *testing.T) {
	for _, tag := range prompts.Languages() {
		p, err := prompts.New(tag, prompts.Normal)
		if err != nil {
			t.Fatal(err)
		}
		stop, _, err := p.Text(prompts.Cue{Code: "stop"})
		if err != nil {
			t.Fatal(err)
		}
		names := []string{stop}
		for _, knob := range strings.Fields("left-hand right-hand upper lower upper-left upper-right lower-left lower-right near far red green blue yellow white black") {
			name, err := p.Told(knob)
			if err != nil {
				t.Fatal(err)
			}
			names = append(names, name)
		}
		if pairs, err := Alike(context.Background(), tag.String(), names); err != nil || len(pairs) > 0 {
			t.Errorf("%s: %v sound alike, %v", tag, pairs, err)
		}
	}
	if pairs, err := Alike(context.Background(), language.English.String(), []string{"B", "C", "bump"}); err != nil || len(pairs) != 1 {
		t.Errorf("B and C: %v, %v", pairs, err)
	}
}
