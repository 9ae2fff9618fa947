package camera

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"halocue/internal/plain"
	"halocue/internal/platform/confine"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/still"
	"halocue/vision/still/size"
)

// perPicture is how long one picture of a video may take, and its opening.
const perPicture = 15 * time.Second

// Both are OpenCV, in a process of its own; package opencv says what it writes.
var (
	decodeVideo = confine.In("halocue-opencv", "decode video")
	readCamera  = confine.In("halocue-opencv", "read camera")
)

// decoded are pictures that such a process writes.
type decoded struct {
	*confine.Process
	out  *bufio.Reader
	head [12]byte // width, height, bytes a pixel
	row  []byte
	most func(w, h int) error // refuses what is too large
}

// newDecoded waits for the process to say the frame rate, until the context is done.
func newDecoded(ctx context.Context, p *confine.Process, most func(w, h int) error) (d *decoded, pace float64, err error) {
	d = &decoded{Process: p, out: bufio.NewReaderSize(p.Out, 64<<10), most: most}
	stop := context.AfterFunc(ctx, p.Kill)
	defer stop()
	if err = binary.Read(d.out, binary.LittleEndian, &pace); err == nil {
		return d, pace, nil
	}
	if ctx.Err() != nil {
		go d.End() // a driver may keep it
		return nil, 0, fmt.Errorf("it does not answer (%w)", ctx.Err())
	}
	err = d.Died()
	d.End()
	return nil, 0, err
}

// read is io.EOF behind the last picture.
func (d *decoded) read(f *frame.Frame) error {
	if _, err := io.ReadFull(d.out, d.head[:]); err != nil {
		return d.Died()
	}
	if d.head == [12]byte{} {
		return io.EOF
	}
	number := func(i int) int { return int(min(binary.LittleEndian.Uint32(d.head[4*i:]), math.MaxInt32)) }
	w, h, bytes := number(0), number(1), min(number(2), 2)
	if err := d.most(w, h); err != nil {
		return err
	}
	f.Resize(w, h)
	f.Name, f.White = "", 255
	if bytes == 2 {
		f.White = 65535
	}
	if len(d.row) != bytes*w {
		d.row = make([]byte, bytes*w)
	}
	for y := range h {
		if _, err := io.ReadFull(d.out, d.row); err != nil {
			return d.Died()
		}
		still.Row(f.Pix[y*w:][:w], d.row, bytes)
	}
	return nil
}

func (d *decoded) interrupt() { d.Kill() }

func (d *decoded) release() { d.End() }

// videoFile reads a video file.
type videoFile struct {
	*decoded
	late *time.Timer
}

// openVideo opens a video file.
func openVideo(ctx context.Context, path string, o Options) (vision.Source, error) {
	no := func(err error) (vision.Source, error) {
		return nil, fmt.Errorf("opening %s: %w; convert it to a smaller MKV or MP4, or give a folder of pictures", plain.Text(path, 200), err)
	}
	f, err := os.Open(path)
	if err != nil {
		return no(err)
	}
	p, err := decodeVideo.Start(f)
	f.Close()
	if err != nil {
		return no(err)
	}
	late := time.AfterFunc(perPicture, p.Kill)
	defer late.Stop()
	d, pace, err := newDecoded(ctx, p, size.Video)
	if err != nil {
		return no(err)
	}
	if o.FPS > 0 || !(pace > 0 && pace <= 1000) {
		pace = o.fps()
	}
	return newSource(&videoFile{d, late}, traits{name: path, paced: true, pace: pace, remedy: "check the disk"}, o), nil
}

func (v *videoFile) read(f *frame.Frame) error {
	v.late.Reset(perPicture)
	defer v.late.Stop()
	err := v.decoded.read(f)
	if err == nil || isEOF(err) {
		return err
	}
	return fmt.Errorf("decoding the video: %w; convert it to MKV or MP4, or give a folder of pictures", err)
}
