package voice

import (
	"context"
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"golang.org/x/text/language"

	"halocue/prompts"
)

// talk is a grammar of some commands amid talk of any phones.
func talk() (grammar, dictionary string) {
	var phones []string
	for _, p := range strings.Fields("AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH") {
		phones = append(phones, "/0.001/ any"+strings.ToLower(p))
		dictionary += "any" + strings.ToLower(p) + " " + p + "\n"
	}
	return "#JSGF V1.0;\ngrammar talk;\npublic <said> = <any> okay halo (carry on | say again | undo that | which knob | status report | slow down | volume up) <any>;\n" +
		"<any> = (" + strings.Join(phones, " | ") + ")+;\n", dictionary
}

// What a person may say to go on is said in English within a sentence of each language: a
// recogniser of English picks it out of seven commands, and finds none in the same
// sentence by that language's voice alone.
func TestWordsToSayAreSaidInEnglish(t *testing.T) {
	wordsToSayAreSaidInEnglish(t, prompts.Languages()[1:2])
}
func TestProveWordsToSayAreSaidInEnglish(t *testing.T) {
	wordsToSayAreSaidInEnglish(t, prompts.Languages()[1:])
}

func wordsToSayAreSaidInEnglish(t *testing.T, languages []language.Tag) {
	program, err := exec.LookPath("pocketsphinx_batch")
	if err != nil {
		t.Fatal("pocketsphinx is not installed; make deps installs it")
	}
	grammar, words := talk()
	wide := []string{"-beam", "1e-80", "-pbeam", "1e-80", "-wbeam", "1e-60"}
	for _, tag := range languages {
		p, err := prompts.New(tag, prompts.Normal)
		if err != nil {
			t.Fatal(err)
		}
		text, _, err := p.Text(prompts.Cue{Code: "paused"})
		if err != nil || !strings.Contains(text, "“okay halo, carry on”") {
			t.Fatalf("%s: %q, %v", tag, text, err)
		}
		mixed, err := New(Config{Language: tag.String(), WPM: 160})
		if err != nil {
			t.Fatal(err)
		}
		for alone, v := range []Voice{mixed, mixed.(quoting).Voice} {
			heard := ""
			for _, word := range strings.Fields(listen(t, program, grammar, words, v, []string{text}, wide...)[0]) {
				if !strings.HasPrefix(word, "any") {
					heard += word + " "
				}
			}
			if want := []string{"okay halo carry on ", ""}[alone]; heard != want {
				t.Errorf("%s: heard %q in %q, want %q", tag, heard, text, want)
			}
		}
	}
}

// tagged is a voice that says what it was asked for by the number of its samples.
type tagged struct {
	rate int
	said *[]string
	name string
}

func (v tagged) Speak(_ context.Context, text string) (PCM, error) {
	*v.said = append(*v.said, v.name+": "+text)
	return PCM{Rate: v.rate, Samples: make([]int16, v.rate)}, nil
}

// Each piece goes to its voice, and marks alone to none.
func TestQuotesChangeTheVoice(t *testing.T) {
	var said []string
	own, english := tagged{16000, &said, "own"}, tagged{22050, &said, "english"}
	for text, want := range map[string]string{
		"Halt.":                      "own: Halt.",
		"Etwa “yes”, “no”, “skip”.":  "own: Etwa |english: yes|english: no|english: skip",
		"“halocue help” zeigt alles": "english: halocue help|own:  zeigt alles",
		"Sag “stop":                  "own: Sag |english: stop",
	} {
		said = nil
		pcm, err := quoting{own, own, english}.Speak(context.Background(), text)
		if got := strings.Join(said, "|"); got != want || err != nil || len(pcm.Samples) == 0 {
			t.Errorf("%s: %q, %d samples, %v; want %q", text, got, len(pcm.Samples), err, want)
		}
	}
	said = nil
	if _, err := (quoting{Voice: own}).Speak(context.Background(), "Say “go on”."); err != nil || fmt.Sprint(said) != "[own: Say go on.]" {
		t.Errorf("in English: %q, %v", said, err)
	}
}
