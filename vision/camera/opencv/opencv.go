// Package opencv has OpenCV decode video files and read V4L2 cameras, each in a process
// of its own. Debian's OpenCV brings 240 shared libraries, so only the program
// halocue-opencv is linked with this package, and runs only where it is needed.
//
// Such a process writes the frame rate (a float64) and then picture after picture: width,
// height and bytes a pixel (uint32), and grey values of 1 or 2 bytes. All is little endian.
package opencv

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"gocv.io/x/gocv"

	"halocue/internal/platform/confine"
	"halocue/vision/still/size"
)

// A video file may hold anything. A camera is chosen by its owner, and its driver may
// need what a filter would refuse.
var (
	_ = confine.Register("decode video", confine.Limits{Memory: 208 << 20, CPU: 12 * time.Hour, Files: 32, Opens: true}, decode)
	_ = confine.Register("read camera", confine.Limits{}, readCamera)
)

// decode decodes the video file that is open as descriptor 3, by FFmpeg. After the last
// picture comes one without pixels.
func decode(_ io.Reader, out io.Writer) error {
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
	first := gocv.NewMat()
	if !dev.Read(&first) || first.Empty() {
		return errors.New("its first picture cannot be decoded, or needs too much memory")
	}
	if err := write(out, dev.Get(gocv.VideoCaptureFPS)); err != nil {
		return err
	}
	if err := pictures(dev, first, out); err != nil {
		return err
	}
	return write(out, [3]uint32{})
}

// readCamera reads the V4L2 device that in names, after the size to ask for.
func readCamera(in io.Reader, out io.Writer) error {
	var width, height float64
	var path string
	if _, err := fmt.Fscanf(in, "%g %g %q\n", &width, &height, &path); err != nil {
		return err
	}
	dev, err := gocv.VideoCaptureFileWithAPI(path, gocv.VideoCaptureV4L2)
	if err != nil || !dev.IsOpened() {
		return errors.New("it does not open")
	}
	// Motion JPEG first: over USB 2, uncompressed pictures of this size come slowly.
	dev.Set(gocv.VideoCaptureFOURCC, dev.ToCodec("MJPG"))
	dev.Set(gocv.VideoCaptureFrameWidth, width)
	dev.Set(gocv.VideoCaptureFrameHeight, height)
	if err := write(out, dev.Get(gocv.VideoCaptureFPS)); err != nil {
		return err
	}
	first := gocv.NewMat()
	if !dev.Read(&first) || first.Empty() {
		return errors.New("it gives no picture")
	}
	return pictures(dev, first, out)
}

// pictures writes the first picture, and all that follow it. The grey of colours is
// OpenCV's: the weights of package still.
func pictures(dev *gocv.VideoCapture, picture gocv.Mat, out io.Writer) error {
	grey := gocv.NewMat()
	for more := true; more; more = dev.Read(&picture) && !picture.Empty() {
		one := picture
		if picture.Channels() > 1 {
			if err := gocv.CvtColor(picture, &grey, gocv.ColorBGRToGray); err != nil {
				return err
			}
			one = grey
		}
		pixels, err := one.DataPtrUint8() // however many bytes each has
		if err != nil {
			return err
		}
		bytes := len(pixels) / one.Total()
		if err := write(out, [3]uint32{uint32(one.Cols()), uint32(one.Rows()), uint32(bytes)}); err != nil {
			return err
		}
		if _, err := out.Write(pixels); err != nil {
			return err
		}
	}
	return nil
}

func write(out io.Writer, what any) error { return binary.Write(out, binary.LittleEndian, what) }
