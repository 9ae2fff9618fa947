package voice

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"halocue/audio"
	"halocue/audio/resample"
)

// kept is a Command whose words are kept on disk, ready for the mixer.
type kept struct {
	Command
	store *store
	key   string // of all that the words' sound depends on besides their text; "": unknown
}

// keep has what c says kept in a folder; "" keeps nothing.
func keep(c Command, dir string) Voice {
	if dir == "" {
		return c
	}
	return kept{c, newStore(dir, mostKept), c.identity()}
}

// identity is the program with its version, and its arguments: voice, speed, language. A
// new version of a program, or of a file among its arguments, such as a voice's model,
// shows in size or time.
func (c Command) identity() string {
	if len(c.Argv) == 0 {
		return ""
	}
	program, err := exec.LookPath(c.Argv[0])
	if err != nil {
		return "" // it fails when it is asked
	}
	key := strings.Join(c.Argv, "\x00")
	for _, path := range append([]string{program}, c.Argv[1:]...) {
		if info, err := os.Stat(path); err == nil && info.Mode().IsRegular() {
			path, _ = filepath.Abs(path) // "" if even the working folder is unknown
			key += fmt.Sprintf("\x00%s %d %d", path, info.Size(), info.ModTime().UnixNano())
		}
	}
	return key
}

// Speak returns what is kept, or has it spoken and keeps it.
func (k kept) Speak(ctx context.Context, text string) (PCM, error) {
	if k.key == "" {
		return k.Command.Speak(ctx, text)
	}
	key := fmt.Sprintf("%s\x00%g LUFS\x00%s", k.key, audio.SpeechLUFS, text)
	if pcm, ok := k.store.get(key); ok {
		return PCM{Rate: audio.Rate, Samples: pcm, Ready: true, Kept: true}, nil
	}
	pcm, err := k.Command.Speak(ctx, text)
	if err == nil {
		pcm, err = pcm.ready()
	}
	if err != nil {
		return PCM{}, err
	}
	if pcm.Ready {
		pcm.Kept = k.store.put(key, pcm.Samples)
	}
	return pcm, nil
}

// ready is the sound at the mixer's rate; and of what can be heard, without silence at
// its ends and at the loudness of speech.
func (p PCM) ready() (PCM, error) {
	if p.Ready {
		return p, nil
	}
	var err error
	if p.Samples, err = resample.PCM(p.Samples, p.Rate, audio.Rate); err != nil {
		return PCM{}, err
	}
	p.Rate = audio.Rate
	if clip := audio.FromPCM(p.Samples); clip.Peak() > 0 {
		p.Samples, p.Ready = clip.Trimmed().Levelled(audio.SpeechLUFS).Int16(), true
	}
	return p, nil
}
