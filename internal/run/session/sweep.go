package session

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"halocue/internal/record"
	"halocue/internal/run/parts"
)

// Compared is one night of a sweep.
type Compared struct {
	Folder    string
	Then, Now record.Story
	Verdict   string // same, same claim, better, worse; "" where Err is not nil
	Err       error
}

// Recordings replaces folders of recordings by the recordings in them, in the order of
// their names.
func Recordings(folders []string) (all []string, err error) {
	for _, folder := range folders {
		if _, err := os.Stat(filepath.Join(folder, record.Head)); err == nil {
			all = append(all, folder)
			continue
		}
		heads, err := filepath.Glob(filepath.Join(folder, "*", record.Head))
		if err != nil || len(heads) == 0 {
			return nil, fmt.Errorf("looking for recordings in %s: %w", folder, errors.Join(err, record.ErrNone))
		}
		for _, head := range heads {
			all = append(all, filepath.Dir(head))
		}
	}
	return all, nil
}

// Sweep replays each recording and compares what is said with what was said that night, or
// with what another build of halocue, the program at other, says of it today.
func Sweep(ctx context.Context, w *parts.World, folders []string, other string, each func(Compared)) error {
	for _, folder := range folders {
		c := Compared{Folder: folder}
		var a Again
		if a, c.Err = ReplayFolder(ctx, w, folder, "", nil); c.Err == nil {
			c.Then, c.Now = a.Then, a.Now
			if other != "" {
				c.Then, c.Err = replayWith(ctx, other, folder)
			}
		}
		if c.Err == nil {
			c.Verdict = record.Verdict(c.Then, c.Now)
		}
		each(c)
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	return nil
}

// replayWith has another build replay a recording.
func replayWith(ctx context.Context, program, folder string) (record.Story, error) {
	cmd := exec.CommandContext(ctx, program, "replay", "--transcript", "-", folder)
	var out, said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Run(); err != nil {
		return record.Story{}, fmt.Errorf("replaying %s with %s: %w (%.200s); name a halocue that replays folders", folder, program, err, strings.TrimSpace(said.String()))
	}
	return record.ReadStory(&out)
}
