package sphinx

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// modelDir is where Debian puts the model.
const modelDir = "/usr/share/pocketsphinx/model/en-us"

// Config is what a decoder needs. Only the grammar is required.
type Config struct {
	Grammar *Grammar
	Filler  float64             // probability of each phone of the filler; with 0 everything is a sentence
	Words   map[string][]string // pronunciations beside the dictionary's, as phones: {"half": {"HH AA F"}}
	Wide    bool                // keep more guesses alive, for long sentences over a tone; some three times the work
}

// wide are the beams of Config.Wide. With the usual ones (1e-48, 1e-48, 7e-29) two
// sentences without a pause lost their beginning, and were recognised as some short
// sentence.
var wide = []string{"-beam", "1e-80", "-pbeam", "1e-80", "-wbeam", "1e-60"}

// Decoder recognises utterances. It may be used by one goroutine at a time.
type Decoder struct {
	dir  string
	args []string
}

// New prepares a decoder. Close it to remove its files.
func New(c Config) (*Decoder, error) {
	const remedy = "install the packages pocketsphinx and pocketsphinx-en-us"
	program, err := exec.LookPath("pocketsphinx_batch")
	if err != nil {
		return nil, fmt.Errorf("find the recogniser: %w; %s", err, remedy)
	}
	cmu, err := os.ReadFile(filepath.Join(modelDir, "cmudict-en-us.dict"))
	if err != nil {
		return nil, fmt.Errorf("read the recogniser's dictionary: %w; %s", err, remedy)
	}
	dict, err := c.Grammar.dictionary(string(cmu), c.Words)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "words")
	if err != nil {
		return nil, fmt.Errorf("make room for the recogniser: %w", err)
	}
	d := &Decoder{dir: dir, args: []string{
		program, "-hmm", filepath.Join(modelDir, "en-us"), "-fsg", "g.fsg", "-dict", "g.dict",
		"-adcin", "yes", "-cepdir", ".", "-cepext", ".raw", "-ctl", "ctl", "-hyp", "hyp",
		"-logfn", "/dev/null"}}
	if c.Wide {
		d.args = append(d.args, wide...)
	}
	for name, text := range map[string]string{"g.fsg": c.Grammar.fsg(c.Filler), "g.dict": dict, "ctl": "say\n"} {
		if err := d.write(name, []byte(text)); err != nil {
			_ = d.Close()
			return nil, err
		}
	}
	return d, nil
}

func (d *Decoder) write(name string, data []byte) error {
	if err := os.WriteFile(filepath.Join(d.dir, name), data, 0o600); err != nil {
		return fmt.Errorf("write for the recogniser: %w; free some space", err)
	}
	return nil
}

// Close removes the decoder's files.
func (d *Decoder) Close() error { return os.RemoveAll(d.dir) }

// Decode returns the sentence of an utterance (mono, 16,000 samples a second, with
// some silence at both ends), or "" where it is none of the grammar's.
func (d *Decoder) Decode(ctx context.Context, pcm []int16) (string, error) {
	words, whole, err := d.Beginning(ctx, pcm)
	if !whole {
		return "", err
	}
	return words, err
}

// Beginning returns the first words of an utterance that are in the grammar, and whether
// they are all of it. The sentence may also be incomplete.
func (d *Decoder) Beginning(ctx context.Context, pcm []int16) (words string, whole bool, err error) {
	var raw bytes.Buffer
	if err := binary.Write(&raw, binary.LittleEndian, pcm); err != nil {
		return "", false, err
	}
	if err := d.write("say.raw", raw.Bytes()); err != nil {
		return "", false, err
	}
	cmd := exec.CommandContext(ctx, d.args[0], d.args[1:]...)
	cmd.Dir = d.dir
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", false, fmt.Errorf("run the recogniser: %w: %s", err, bytes.TrimSpace(out))
	}
	hyp, err := os.ReadFile(filepath.Join(d.dir, "hyp"))
	if err != nil {
		return "", false, fmt.Errorf("read what the recogniser understood: %w", err)
	}
	// "okay halo volume up (say -3504)", "okay halo wait g_AA (say -4012)"
	words, _, _ = strings.Cut(string(hyp), "(")
	words, _, filled := strings.Cut(words, fillerMark)
	return strings.TrimSpace(words), !filled, nil
}
