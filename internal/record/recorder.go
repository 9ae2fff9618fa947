package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"halocue/internal/observe"
	"halocue/vision/frame"
)

// Options of a recording.
type Options struct {
	// Most bounds the frames of this night, bytes.
	Most int64
	// Free returns how many bytes the disk has left. With less than reserve no more frames
	// are kept, so that the journal and the rest of the computer have room.
	Free func(folder string) (int64, error)
	// Stopped is called once, from a goroutine of the recording, if it ends before the night.
	Stopped func(error)
}

// reserve is what is left free on the disk, bytes.
const reserve = 256 << 20

const (
	waiting   = 8192     // items that may wait for a slow disk
	mostBytes = 32 << 20 // of frames among them
)

// Recorder writes one recording. Frame and Write never wait for the disk; each may be
// called from a goroutine of its own.
type Recorder struct {
	folder string
	o      Options
	night  Night // the writing goroutine's, until it has ended
	lines  *os.File

	queue   chan item
	done    chan struct{}
	pending atomic.Int64 // bytes of frames in the queue
	dropped atomic.Int64 // frames
	lost    atomic.Int64 // lines
	full    atomic.Bool  // no more frames are kept

	cut    cutter
	number int
}

// item is a line, or a frame with its line.
type item struct {
	line          []byte
	name          string
	jpeg          []byte
	pix           []float32
	width, height int
	white         float32
}

// FrameEvent is a frame's line in the transcript of a recording. It goes before the measure
// event of the same time.
type FrameEvent struct {
	T     float64 `json:"t"`
	Event string  `json:"event"` // frame
	File  string  `json:"file"`
}

// Begin begins a recording in a folder, which it makes; one that holds something already
// is refused.
func Begin(folder string, n Night, o Options) (*Recorder, error) {
	if entries, err := os.ReadDir(folder); err == nil && len(entries) > 0 {
		return nil, fmt.Errorf("recording the night: %s holds something already; name another folder, or delete it", folder)
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, fmt.Errorf("recording the night: %w; name a folder that can be written to", err)
	}
	n.Format, n.Settings = format, public(n.Settings)
	r := &Recorder{folder: folder, o: o, night: n, queue: make(chan item, waiting), done: make(chan struct{})}
	err := r.head()
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, Readme), []byte(readme), 0o600)
	}
	if err == nil {
		r.lines, err = os.OpenFile(filepath.Join(folder, Transcript), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	}
	if err != nil {
		return nil, fmt.Errorf("recording the night: %w; name a folder that can be written to", err)
	}
	go r.write()
	return r, nil
}

// head writes what stands over the recording.
func (r *Recorder) head() error {
	text, err := json.MarshalIndent(r.night, "", "  ")
	if err != nil {
		return err
	}
	path := filepath.Join(r.folder, Head)
	if err := os.WriteFile(path+".new", append(text, '\n'), 0o600); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// Frame keeps a frame at time t, s, of which s is what was seen.
func (r *Recorder) Frame(t float64, f *frame.Frame, s observe.Sight) {
	if r.full.Load() {
		return
	}
	r.number++
	i := item{name: fmt.Sprintf("%06d.jpg", r.number)}
	size := int64(len(f.JPEG))
	if len(f.JPEG) == 0 {
		box, whole := r.cut.place(t, r.number, f, s)
		if box.Empty() {
			return
		}
		i.name, i.width, i.height, i.white = fmt.Sprintf("%06d.fits.gz", r.number), box.Dx(), box.Dy(), f.White
		if !whole {
			i.name = fmt.Sprintf("%06d-in-%06d+%d+%d.fits.gz", r.number, r.cut.number, box.Min.X, box.Min.Y)
		}
		size = 4 * int64(i.width) * int64(i.height)
		if r.pending.Load()+size <= mostBytes {
			i.pix = make([]float32, 0, i.width*i.height)
			for y := box.Min.Y; y < box.Max.Y; y++ {
				i.pix = append(i.pix, f.Pix[y*f.Width+box.Min.X:y*f.Width+box.Max.X]...)
			}
		}
	} else if r.pending.Load()+size <= mostBytes {
		i.jpeg = bareJPEG(f.JPEG)
	}
	line, err := json.Marshal(FrameEvent{t, "frame", i.name})
	if i.line = append(line, '\n'); err != nil || i.jpeg == nil && i.pix == nil || !r.put(i) {
		r.dropped.Add(1)
		r.cut = cutter{} // what is cut next must lie in a whole frame that is there
	}
}

// Write keeps a line of the transcript. It never fails: what is lost is counted.
func (r *Recorder) Write(line []byte) (int, error) {
	if l := clean(line); l == nil || !r.put(item{line: append([]byte(nil), l...)}) {
		r.lost.Add(1)
	}
	return len(line), nil
}

func (r *Recorder) put(i item) bool {
	size := int64(len(i.jpeg) + 4*len(i.pix))
	r.pending.Add(size)
	select {
	case r.queue <- i:
		return true
	default:
		r.pending.Add(-size)
		return false
	}
}

// write is the goroutine that writes.
func (r *Recorder) write() {
	defer close(r.done)
	for i := range r.queue {
		r.pending.Add(-int64(len(i.jpeg) + 4*len(i.pix)))
		err := r.picture(&i)
		if err == nil && i.line != nil {
			if _, err = r.lines.Write(i.line); err != nil {
				r.lost.Add(1)
			}
		}
		r.stop(err)
	}
}

// picture writes the frame of an item, if there is one; where no more are kept, it takes
// the line away with it.
func (r *Recorder) picture(i *item) error {
	if i.name == "" {
		return nil
	}
	line := i.line
	i.line = nil
	if r.full.Load() {
		return nil
	}
	if r.night.Bytes > r.o.Most {
		return fmt.Errorf("this night has %d MB of frames, which is all that one may have; set journal.record_gb higher", r.night.Bytes>>20)
	}
	if r.o.Free != nil {
		if free, err := r.o.Free(r.folder); err == nil && free < reserve {
			return fmt.Errorf("the disk has less than %d MB left; make room on it", reserve>>20)
		}
	}
	data, err := i.jpeg, error(nil)
	if data == nil {
		data, err = packedFITS(i.width, i.height, i.pix, i.white)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(r.folder, i.name), data, 0o600)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("keeping a frame: %w", err), forget(filepath.Join(r.folder, i.name)))
	}
	i.line = line
	r.night.Frames++
	r.night.Bytes += int64(len(data))
	return nil
}

// forget deletes a file of which half may be written.
func forget(path string) error {
	if err := os.Remove(path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// stop ends the frames at the first failure, and says so once.
func (r *Recorder) stop(err error) {
	if err == nil || r.full.Swap(true) {
		return
	}
	r.night.Stopped = scrub(err.Error())
	if r.o.Stopped != nil {
		r.o.Stopped(err)
	}
}

// End ends the recording with the night's result. It is called once, after the last Frame
// and Write.
func (r *Recorder) End(at time.Time, result string) error {
	close(r.queue)
	<-r.done
	n := &r.night
	n.Ended, n.Result, n.Dropped, n.Lines = at, result, int(r.dropped.Load()), int(r.lost.Load())
	text := readme + fmt.Sprintf("\nFrames: %d, %d MB. Frames that the disk was too slow for: %d. Lines of the transcript likewise: %d.\n", n.Frames, n.Bytes>>20, n.Dropped, n.Lines)
	if n.Stopped != "" {
		text += "No more frames were kept before the night's end: " + n.Stopped + ".\n"
	}
	err := errors.Join(r.lines.Close(), r.head(), os.WriteFile(filepath.Join(r.folder, Readme), []byte(text), 0o600))
	if err != nil {
		return fmt.Errorf("ending the recording: %w; make room on the disk", err)
	}
	return nil
}

// Keep writes the journal's rows of the night beside the rest, one JSON object a line.
func Keep(folder string, rows [][]byte) error {
	var text []byte
	for _, row := range rows {
		if row = clean(row); row != nil {
			text = append(append(text, bytes.TrimRight(row, "\n")...), '\n')
		}
	}
	if err := os.WriteFile(filepath.Join(folder, Journal), text, 0o600); err != nil {
		return fmt.Errorf("keeping the journal's rows with the recording: %w; make room on the disk", err)
	}
	return nil
}

const readme = `This folder is one night of halocue, a spoken guide for aligning a Newtonian telescope on a defocused star.

night.json        version, kind of machine, settings, result. No place, host or name of a person.
transcript.jsonl  what was measured, decided and said, and the time of each frame: seconds since the first
journal.jsonl     the rows of the journal, if the night came to its end
*.jpg             frames as the camera sent them, without what a camera writes of place and serial number
*.fits.gz         frames of other cameras as numbers. NUMBER.fits.gz is whole, once a second;
                  NUMBER-in-WHOLE+X+Y.fits.gz is a part: its first pixel is pixel (X, Y) of frame WHOLE

  halocue replay FOLDER             measures and coaches it again, and says what differs today
  halocue collimate --camera FOLDER plays it
  halocue measure FOLDER/NUMBER.jpg measures one frame
  halocue replay --pack FOLDER OUT.zip   makes one file to send

Pictures of a star and these numbers are all there is. Halocue sends nothing by itself.
`
