package voice

import (
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/language"

	"halocue/prompts"
)

const sphinxModel = "/usr/share/pocketsphinx/model/en-us"

// The language of the cues, as a listener knows it who has never seen the program.
const cueGrammar = `#JSGF V1.0;
grammar cues;
public <cue> = <turn> | <other>;
<turn> = <knob> knob (tighten | loosen) <amount>;
<knob> = left hand | right hand | upper;
<amount> = slightly | a touch | an eighth of a turn | a quarter turn | a third of a turn | half a turn
  | three quarters of a turn | one turn | one and a half turns;
<other> = stop | stop that is the <knob> knob | stop wrong way | wait one knob at a time | measuring hands off
  | push the tube star to the middle | push the tube the other way
  | focuser a little (further out of | nearer to) focus
  | focuser turn through to the other side
  | <knob> lock (release | snug it gently)
  | the star is back | nothing moved <turn> | put it back <turn>
  | camera lost hands off check its cable | the camera is back
  | danger far too bright never the sun turn the telescope away and cover it
  | done the mirror is true | done it is as true as the air allows tonight
  | i stop here the mirror is not proved true;
`

// heardCues are the cues of a night: half of the turns of three knobs, and the rest.
func heardCues() (cues []prompts.Cue) {
	n := 0
	for _, knob := range []string{"left-hand", "right-hand", "upper"} {
		for _, direction := range []string{"tighten", "loosen"} {
			for _, turns := range []float64{0.02, 0.06, 0.125, 0.25, 0.33, 0.5, 0.75, 1, 1.5} {
				if n++; n%2 == 0 {
					continue // every other one: with nine amounts each is there for three of the six
				}
				cues = append(cues, prompts.Cue{Code: "turn", Knob: knob, Direction: direction, Turns: turns})
			}
		}
		for _, direction := range []string{"release", "snug"} {
			cues = append(cues, prompts.Cue{Code: "lock", Knob: knob, Direction: direction})
		}
		cues = append(cues, prompts.Cue{Code: "wrong-knob", Args: map[string]any{"moved": knob}})
	}
	for _, code := range []string{"no-movement", "put-back"} {
		cues = append(cues, prompts.Cue{Code: code, Knob: "upper", Direction: "loosen", Turns: 0.06})
	}
	for _, code := range []string{"stop", "wrong-way", "one-knob", "measuring", "recentre", "recentre-other-way", "other-side",
		"cleared", "camera-lost", "camera-back", "too-bright"} {
		cues = append(cues, prompts.Cue{Code: code})
	}
	for _, direction := range []string{"more", "less"} {
		cues = append(cues, prompts.Cue{Code: "defocus", Direction: direction})
	}
	for _, result := range []string{"aligned", "as-good-as-the-air-allows", "given-up"} {
		cues = append(cues, prompts.Cue{Code: "done", Result: result})
	}
	return cues
}

var notWords = regexp.MustCompile(`[^a-z ]+`)

// words are the words of a text as the recogniser writes them.
func words(text string) []string {
	return strings.Fields(notWords.ReplaceAllString(strings.ReplaceAll(strings.ToLower(text), "-", " "), " "))
}

// A recogniser that knows the language of the cues writes down at least 95 % of the
// words that each English voice says. A test hears one cue in five, a proof all.
func TestCuesAreUnderstood(t *testing.T)      { cuesAreUnderstood(t, 5) }
func TestProveCuesAreUnderstood(t *testing.T) { cuesAreUnderstood(t, 1) }

func cuesAreUnderstood(t *testing.T, step int) {
	program, err := exec.LookPath("pocketsphinx_batch")
	if err != nil {
		t.Fatal("pocketsphinx is not installed; make deps installs it")
	}
	phrases, err := prompts.New(language.English, prompts.Normal)
	if err != nil {
		t.Fatal(err)
	}
	var texts []string
	for i, c := range heardCues() {
		if i%step != 0 {
			continue
		}
		text, _, err := phrases.Text(c)
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	espeak, err := Espeak("en", 160)
	if err != nil {
		t.Fatal(err)
	}
	espeak.Timeout = time.Minute // of a busy machine
	voices := map[string]Voice{"espeak-ng": espeak}
	if _, err := exec.LookPath("flite"); err == nil {
		voices["flite"] = fliteVoice(160)
	}
	for name, v := range voices {
		heard := listen(t, program, cueGrammar, "", v, texts)
		wrong, all := 0, 0
		for i, text := range texts {
			said, got := words(text), words(heard[i])
			if n := distance(said, got); n > 0 {
				wrong += n
				t.Logf("%s: said %q, heard %q", name, text, heard[i])
			}
			all += len(said)
		}
		accuracy := 1 - float64(wrong)/float64(all)
		t.Logf("%s: %d cues, %d words, %.1f %% of them right", name, len(texts), all, 100*accuracy)
		if accuracy < 0.95 {
			t.Errorf("%s: %.1f %% of the words were understood; want 95", name, 100*accuracy)
		}
	}
}

// listen returns what the recogniser writes down for each text.
func listen(t *testing.T, program, grammar, words string, v Voice, texts []string, more ...string) []string {
	t.Helper()
	dir := t.TempDir()
	var list strings.Builder
	for i, text := range texts {
		pcm, err := v.Speak(context.Background(), text)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&list, "c%03d\n", i)
		write(t, filepath.Join(dir, fmt.Sprintf("c%03d.raw", i)), thin(pcm))
	}
	write(t, filepath.Join(dir, "list"), []byte(list.String()))
	write(t, filepath.Join(dir, "cues.gram"), []byte(grammar))
	dictionary, err := os.ReadFile(sphinxModel + "/cmudict-en-us.dict")
	if err != nil {
		t.Fatalf("reading the recogniser's dictionary: %v; make deps installs it", err)
	}
	write(t, filepath.Join(dir, "dict"), append(dictionary, "focuser F OW K AH S ER\n"+words...))
	out, err := exec.Command(program, append(more, "-hmm", sphinxModel+"/en-us", "-dict", filepath.Join(dir, "dict"),
		"-jsgf", filepath.Join(dir, "cues.gram"), "-adcin", "yes", "-cepdir", dir, "-cepext", ".raw",
		"-ctl", filepath.Join(dir, "list"), "-hyp", filepath.Join(dir, "hyp"), "-logfn", "/dev/null")...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v %s", err, out)
	}
	hyp, err := os.ReadFile(filepath.Join(dir, "hyp"))
	if err != nil {
		t.Fatal(err)
	}
	heard := strings.Split(strings.TrimRight(string(hyp), "\n"), "\n")
	if len(heard) != len(texts) {
		t.Fatalf("%d answers to %d cues", len(heard), len(texts))
	}
	for i, line := range heard { // "words (c001 -1234)"
		heard[i], _, _ = strings.Cut(line, "(")
	}
	return heard
}

func write(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// thin takes speech to the recogniser's 16 kHz by straight lines, which is good
// enough for words, between 0.3 s of faint noise: it mishears what stands in
// perfect silence.
func thin(pcm PCM) []byte {
	const rate, pad = 16000, 4800
	n := len(pcm.Samples) * rate / pcm.Rate
	out := make([]byte, 0, 2*(n+2*pad))
	seed := uint32(1)
	for i := -pad; i < n+pad; i++ {
		seed = seed*1664525 + 1013904223
		v := (float64(seed>>16)/65536 - 0.5) * 32
		at := float64(i) * float64(pcm.Rate) / rate
		if k := int(at); i >= 0 && k+1 < len(pcm.Samples) {
			part := at - float64(k)
			v += 0.9 * ((1-part)*float64(pcm.Samples[k]) + part*float64(pcm.Samples[k+1]))
		}
		out = binary.LittleEndian.AppendUint16(out, uint16(int16(v)))
	}
	return out
}

// distance is the least number of words to change, add or leave out (Levenshtein).
func distance(a, b []string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j := range b {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
