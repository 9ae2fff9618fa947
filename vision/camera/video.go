package camera

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"gocv.io/x/gocv"

	"halocue/internal/plain"
	"halocue/internal/platform/confine"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/still"
	"halocue/vision/still/size"
)

// perPicture is how long one picture of a video may take, and its opening.
const perPicture = 15 * time.Second

// decodeVideo is FFmpeg, through OpenCV, in a process of its own. Its descriptor 3 is
// the file. It writes the frame rate, then picture after picture: its head, and grey
// values of a byte each.
var decodeVideo = confine.Register("decode video", confine.Limits{Memory: 208 << 20, CPU: 12 * time.Hour, Files: 32, Opens: true}, videoWork)

// head is what comes before a picture's pixels. All 0: there are no more.
type head struct{ Width, Height uint32 }

func videoWork(in io.Reader, out io.Writer) error {
	// Only what a file can hold, and nothing that names other files.
	if err := os.Setenv("OPENCV_FFMPEG_CAPTURE_OPTIONS", "protocol_whitelist;file|format_whitelist;"+
		"avi,matroska,webm,mov,mp4,mpeg,mpegts,mpegvideo,ogg,asf,flv,nut,gif,yuv4mpegpipe,mjpeg,h264,hevc,m4v,ivf,dv,mxf"); err != nil {
		return err
	}
	dev, err := gocv.VideoCaptureFileWithAPI("/proc/self/fd/3", gocv.VideoCaptureFFmpeg)
	if err != nil || !dev.IsOpened() {
		return errors.New("it is no video that can be read here")
	}
	if err := size.Video(int(dev.Get(gocv.VideoCaptureFrameWidth)), int(dev.Get(gocv.VideoCaptureFrameHeight))); err != nil {
		return err
	}
	colour, grey := gocv.NewMat(), gocv.NewMat()
	if !dev.Read(&colour) || colour.Empty() {
		return errors.New("its first picture cannot be decoded, or needs too much memory")
	}
	if err := binary.Write(out, binary.LittleEndian, dev.Get(gocv.VideoCaptureFPS)); err != nil {
		return err
	}
	for more := true; more; more = dev.Read(&colour) && !colour.Empty() {
		if err := gocv.CvtColor(colour, &grey, gocv.ColorBGRToGray); err != nil {
			return err
		}
		pix, err := grey.DataPtrUint8()
		if err != nil {
			return err
		}
		if err := binary.Write(out, binary.LittleEndian, head{uint32(grey.Cols()), uint32(grey.Rows())}); err != nil {
			return err
		}
		if _, err := out.Write(pix); err != nil {
			return err
		}
	}
	return binary.Write(out, binary.LittleEndian, head{})
}

// videoFile reads a video file by way of a process of its own.
type videoFile struct {
	*confine.Process
	out  *bufio.Reader
	late *time.Timer
	row  []byte
	head [8]byte
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
	v := &videoFile{Process: p, out: bufio.NewReaderSize(p.Out, 64<<10), late: time.AfterFunc(perPicture, p.Kill)}
	stop := context.AfterFunc(ctx, p.Kill)
	defer stop()
	var pace float64
	err = binary.Read(v.out, binary.LittleEndian, &pace)
	v.late.Stop()
	if err != nil {
		err = v.Died()
		v.release()
		if ctx.Err() != nil {
			err = ctx.Err()
		}
		return no(err)
	}
	if o.FPS > 0 || !(pace > 0 && pace <= 1000) {
		pace = o.fps()
	}
	return newSource(v, traits{name: path, paced: true, pace: pace, remedy: "check the disk"}, o), nil
}

func (v *videoFile) read(f *frame.Frame) error {
	v.late.Reset(perPicture)
	defer v.late.Stop()
	if _, err := io.ReadFull(v.out, v.head[:]); err != nil {
		return v.broken()
	}
	w, h := binary.LittleEndian.Uint32(v.head[:]), binary.LittleEndian.Uint32(v.head[4:])
	if w == 0 && h == 0 {
		return io.EOF
	}
	if err := size.Video(int(min(w, math.MaxInt32)), int(min(h, math.MaxInt32))); err != nil {
		return fmt.Errorf("decoding the video: %w", err)
	}
	f.Resize(int(w), int(h))
	f.Name, f.White = "", 255
	if len(v.row) != f.Width {
		v.row = make([]byte, f.Width)
	}
	for y := range f.Height {
		if _, err := io.ReadFull(v.out, v.row); err != nil {
			return v.broken()
		}
		still.Row(f.Pix[y*f.Width:][:f.Width], v.row, 1)
	}
	return nil
}

// broken says why the process gives no more pictures, in the middle of the video.
func (v *videoFile) broken() error {
	return fmt.Errorf("decoding the video: %w; convert it to MKV or MP4, or give a folder of pictures", v.Died())
}

func (v *videoFile) interrupt() { v.Kill() }

func (v *videoFile) release() {
	v.late.Stop()
	v.End()
}
