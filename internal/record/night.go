// Package record keeps a night in a folder, to be measured and coached again: the frames
// as they came, the transcript with their times, the settings without the place, the
// version and the machine. It writes in a goroutine of its own and never makes a night
// wait.
package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"time"

	"halocue/internal/coach"
)

// format is the version of a recording's files.
const format = 1

// The files of a recording, besides its frames.
const (
	Head       = "night.json"
	Transcript = "transcript.jsonl"
	Journal    = "journal.jsonl"
	Readme     = "README.txt"
)

// Night is the head of a recording: what is true for all of it. It names no place, host or
// person.
type Night struct {
	Format   int                       `json:"format"`
	Version  string                    `json:"version"` // of halocue
	Machine  Machine                   `json:"machine"`
	Began    time.Time                 `json:"began"`
	Ended    time.Time                 `json:"ended,omitzero"` // zero: it was cut off
	Result   string                    `json:"result,omitempty"`
	Clock    string                    `json:"clock"` // wall or frames
	FPS      float64                   `json:"fps"`
	Virtual  bool                      `json:"virtual,omitempty"` // the simulated telescope
	Settings map[string]map[string]any `json:"settings"`
	Memory   *coach.Memory             `json:"memory,omitempty"` // with which the coach began
	Warn     []string                  `json:"warn,omitempty"`   // the codes that it began with

	Frames  int    `json:"frames"`            // that were kept
	Dropped int    `json:"dropped"`           // that the disk was too slow for
	Lines   int    `json:"lines_dropped"`     // of the transcript, likewise
	Bytes   int64  `json:"bytes"`             // of all frames
	Stopped string `json:"stopped,omitempty"` // why no more frames were kept, if so
}

// Machine is the kind of computer, not which.
type Machine struct {
	System string `json:"system"`
	CPUs   int    `json:"cpus"`
	Model  string `json:"model,omitempty"`
	Memory string `json:"memory,omitempty"`
}

// ThisMachine describes the computer, by the kernel's files below root ("" is /).
func ThisMachine(root string) Machine {
	m := Machine{System: runtime.GOOS + "/" + runtime.GOARCH, CPUs: runtime.NumCPU()}
	for _, look := range []struct{ file, key string }{{"proc/device-tree/model", ""}, {"proc/cpuinfo", "model name"}} {
		if m.Model == "" {
			m.Model = field(filepath.Join("/", root, look.file), look.key)
		}
	}
	m.Memory = field(filepath.Join("/", root, "proc/meminfo"), "MemTotal")
	return m
}

// field is what a line "KEY: what" of a file says, or the file's text for no key; "" where
// there is none.
func field(path, key string) string {
	text, err := os.ReadFile(path)
	if err != nil { // not every kernel has every file
		return ""
	}
	for line := range strings.Lines(string(text)) {
		if name, value, _ := strings.Cut(line, ":"); key != "" && strings.TrimSpace(name) == key {
			return strings.TrimSpace(value)
		}
	}
	if key != "" {
		return ""
	}
	return strings.TrimRight(string(text), "\x00\n")
}

// secret lists the settings that give away a place, a host or a person, by section; nil is
// the whole section.
var secret = map[string][]string{"site": nil, "drive": nil, "board": nil, "voice": {"command"}, "sound": {"output"}}

// public returns settings without what is secret; of the camera the kind alone is left.
func public(settings map[string]map[string]any) map[string]map[string]any {
	out := map[string]map[string]any{}
	for section, values := range settings {
		hide, some := secret[section]
		if some && hide == nil {
			continue
		}
		out[section] = maps.Clone(values)
		for _, key := range hide {
			delete(out[section], key)
		}
		if source, ok := values["source"].(string); ok && section == "camera" {
			out[section]["source"] = cameraKind(source)
		}
	}
	return out
}

func cameraKind(source string) string {
	scheme, _, network := strings.Cut(source, "://")
	switch {
	case strings.Contains(source, " ! "):
		return "pipeline"
	case network:
		return scheme
	case source == "-" || strings.HasPrefix(source, "virtual"):
		return source
	case strings.HasPrefix(source, "/dev/") || strings.Trim(source, "0123456789") == "":
		return "device"
	}
	return "file"
}

var (
	address = regexp.MustCompile(`[A-Za-z][A-Za-z0-9+.-]*://[^\s"]+|\b\d{1,3}(\.\d{1,3}){3}(:\d+)?\b|(^|[\s"'(=])~?/[^\s"':;,]+`)
	names   = func() (list []string) {
		host, _ := os.Hostname() // unknown: then it stands nowhere
		for _, name := range []string{host, os.Getenv("USER"), os.Getenv("LOGNAME"), filepath.Base(os.Getenv("HOME"))} {
			if len(name) > 3 && name != "root" {
				list = append(list, name)
			}
		}
		return list
	}()
)

// Hidden takes the place of what was left out.
const Hidden = "(left out)"

// clean removes from a line of a transcript what gives away a place, a host or a person:
// the star to point at, and addresses, paths and names in the reports of devices. It
// returns nil for what is not a line of a transcript.
func clean(line []byte) []byte {
	var e struct{ Event, Code string }
	if err := json.Unmarshal(line, &e); err != nil {
		return nil
	}
	hide := ""
	switch {
	case e.Event == "device":
		hide = "detail"
	case e.Event == "say" && e.Code == "star":
		hide = "text"
	default:
		return line
	}
	var all map[string]any
	if err := json.Unmarshal(line, &all); err != nil {
		return nil
	}
	text, ok := all[hide].(string)
	if !ok {
		return line
	}
	if all[hide] = scrub(text); hide == "text" {
		all[hide] = Hidden
	}
	out, err := json.Marshal(all)
	if err != nil {
		return nil
	}
	return append(out, '\n')
}

func scrub(text string) string {
	text = address.ReplaceAllString(text, "$3"+Hidden)
	for _, name := range names {
		text = strings.ReplaceAll(text, name, Hidden)
	}
	return text
}

// ErrNone says that a folder is no recording.
var ErrNone = errors.New("it is no recording of a night: name a folder that collimate --record FOLDER made")

// Read reads the head of a recording. What a newer halocue wrote is read as far as it is
// known; remark is a sentence about that, or about a night that was cut off, or "".
func Read(folder string) (n Night, remark string, err error) {
	text, err := readFile(filepath.Join(folder, Head), 1<<20)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return n, "", fmt.Errorf("reading %s: %w", folder, ErrNone)
	case err != nil:
		return n, "", fmt.Errorf("reading the recording: %w", err)
	}
	if err := json.Unmarshal(text, &n); err != nil || n.Format < 1 {
		return n, "", fmt.Errorf("reading %s: %s is damaged (%w): %w", folder, Head, errors.Join(err), ErrNone)
	}
	switch {
	case n.Format > format:
		remark = fmt.Sprintf("It was recorded by a newer halocue, %.40q (format %d; this one knows %d): what is new in it is left out.", n.Version, n.Format, format)
	case n.Ended.IsZero():
		remark = "It was cut off, or is still being recorded: what there is of it is used."
	}
	return n, remark, nil
}

// readFile reads a file of no more than most bytes, and nothing but a file.
func readFile(path string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > most {
		return nil, fmt.Errorf("%s is no file of at most %d bytes; take it out of the folder", path, most)
	}
	return os.ReadFile(path)
}
