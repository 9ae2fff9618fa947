package record

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Packed is what went into a packed recording.
type Packed struct {
	Frames int
	Others int   // files that are no part of a recording, and stayed outside
	Bytes  int64 // of the packed file
	Knobs  []string
}

// Pack packs a recording into one file, to be sent. What gives away a place, a host or a
// person is removed once more, because the folder may have been written by another program.
// The file must not exist yet.
func Pack(folder, file string) (p Packed, err error) {
	n, _, err := Read(folder)
	if err != nil {
		return p, err
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return p, fmt.Errorf("packing %s: %w; check that you may read it", folder, err)
	}
	out, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return p, fmt.Errorf("packing %s: %w; name a file that is not there yet", folder, err)
	}
	z := zip.NewWriter(out)
	n.Settings = public(n.Settings)
	n.Stopped = scrub(n.Stopped)
	head, err := json.MarshalIndent(n, "", "  ")
	if err == nil {
		err = add(z, Head, zip.Deflate, bytes.NewReader(head))
	}
	for _, e := range entries {
		name := e.Name()
		switch {
		case err != nil || name == Head:
		case e.Type().IsRegular() && (name == Transcript || name == Journal):
			err = addLines(z, folder, name)
		case e.Type().IsRegular() && (name == Readme || Pictures.MatchString(name)):
			err = addFile(z, folder, name)
			if name != Readme {
				p.Frames++
			}
		default:
			p.Others++
		}
	}
	err = errors.Join(err, z.Close())
	if info, bad := out.Stat(); bad == nil {
		p.Bytes = info.Size()
	}
	if err = errors.Join(err, out.Close()); err != nil {
		return p, errors.Join(fmt.Errorf("packing %s: %w; copy the recording again, or make room on the disk", folder, err), forget(file))
	}
	knobs, _ := n.Settings["mirror_cell"]["knobs"].([]any) // none, or no list: none is named
	for _, k := range knobs {
		if k, ok := k.(map[string]any); ok {
			p.Knobs = append(p.Knobs, fmt.Sprintf("%.40v", k["name"]))
		}
	}
	return p, nil
}

func add(z *zip.Writer, name string, method uint16, from io.Reader) error {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: method})
	if err == nil {
		_, err = io.Copy(w, from)
	}
	return err
}

// addFile adds a file; frames are packed already.
func addFile(z *zip.Writer, folder, name string) error {
	data, err := readFile(filepath.Join(folder, name), mostBytes)
	if err != nil {
		return err
	}
	if strings.HasSuffix(name, ".jpg") {
		data = bareJPEG(data)
	}
	return add(z, name, zip.Store, bytes.NewReader(data))
}

// addLines adds a transcript, line by line as clean leaves it.
func addLines(z *zip.Writer, folder, name string) error {
	f, err := os.Open(filepath.Join(folder, name))
	if err != nil {
		return err
	}
	defer f.Close()
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, LongestLine)
	for err == nil && lines.Scan() {
		if line := clean(lines.Bytes()); line != nil {
			_, err = w.Write(append(bytes.TrimRight(line, "\n"), '\n'))
		}
	}
	return errors.Join(err, lines.Err())
}
