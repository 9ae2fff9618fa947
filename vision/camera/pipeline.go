package camera

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/google/shlex"

	"halocue/internal/platform/confine"
	"halocue/vision"
	"halocue/vision/frame"
	"halocue/vision/still"
	"halocue/vision/still/size"
)

// process is a GStreamer pipeline in a process of its own (gst-launch-1.0). If it hangs
// in a driver it can be ended; if it crashes, only it ends; and its own messages say what
// is wrong. Raw pictures come through a pipe.
type process struct {
	cmd    *exec.Cmd
	pixels *os.File
	format // as the pipeline announced it
	row    []byte
	words  *confine.Said
	exited chan struct{}
	status error
	live   bool
}

// format is that of the pictures, from the pipeline's caps.
type format struct {
	width, height int
	bytes         int // per pixel: 1 and 2 grey, 3 BGR
}

// startsLive matches the first element of pipelines that begin at a camera or a network.
var startsLive = regexp.MustCompile(`^\s*(v4l2src|libcamerasrc|uvch264src|rtspsrc|udpsrc|tcpclientsrc|souphttpsrc|aravissrc)\b`)

// openPipeline starts the pipeline and waits until it has agreed on a format.
func openPipeline(ctx context.Context, spec string, o Options) (vision.Source, error) {
	args, err := pipelineArgs(spec, o)
	if err != nil {
		return nil, fmt.Errorf("reading the pipeline %q: %w", spec, err)
	}
	program, err := exec.LookPath("gst-launch-1.0")
	if err != nil {
		return nil, fmt.Errorf("starting the pipeline: %w; install gstreamer1.0-tools", err)
	}
	known, _ := os.UserCacheDir() // none: GStreamer looks at its plugins each time
	p := &process{words: &confine.Said{}, exited: make(chan struct{}), live: startsLive.MatchString(spec)}
	pixels, theirs, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("starting the pipeline: %w; close other programs", err)
	}
	p.pixels = pixels
	p.cmd = confine.Command(program, filepath.Join(known, "gstreamer-1.0"), args...)
	p.cmd.ExtraFiles = []*os.File{theirs} // descriptor 3
	p.cmd.Env = append(os.Environ(), "LC_ALL=C")
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // Ctrl-C is ours to handle
	p.cmd.Stderr = p.words
	remarks, err := p.cmd.StdoutPipe()
	if err == nil {
		err = p.cmd.Start()
	}
	theirs.Close()
	if err != nil {
		pixels.Close()
		return nil, fmt.Errorf("starting the pipeline: %w; close other programs", err)
	}
	agreed := make(chan format, 1)
	go func() { // owns the process; ends with it
		watchCaps(remarks, agreed)
		p.status = p.cmd.Wait()
		close(p.exited)
	}()
	ctx, cancel := context.WithTimeout(ctx, cmp.Or(o.Patience, 30*time.Second))
	defer cancel()
	select {
	case p.format = <-agreed:
	case <-p.exited:
		select { // both may have happened
		case p.format = <-agreed:
		default:
			p.release()
			return nil, fmt.Errorf("the pipeline %q does not start: %s; try it with gst-launch-1.0, ending in ! fakesink", spec, said(p.words))
		}
	case <-ctx.Done():
		p.release()
		return nil, fmt.Errorf("the pipeline %q gives no pictures (%w); check the camera, and try it with gst-launch-1.0, ending in ! fakesink", spec, ctx.Err())
	}
	p.row = make([]byte, (p.width*p.bytes+3)&^3) // GStreamer pads rows to 4 bytes
	return newSource(p, traits{name: "the pipeline", live: p.live, remedy: "check the camera and its cable"}, o), nil
}

// pipelineArgs are gst-launch's arguments for spec, with an end that writes raw
// pictures to descriptor 3. A mono camera's 8 or 16 bits pass as they are;
// colour comes as BGR, which unlike YUV has one range of values only.
func pipelineArgs(spec string, o Options) ([]string, error) {
	words, err := shlex.Split(spec) // as a shell does: quotes, backslashes, # before a remark
	if err != nil {                 // of nothing else
		return nil, errors.New("a quotation mark is not closed; close it")
	}
	// People who know OpenCV end pipelines in appsink; the end is ours.
	for i, w := range words {
		if w == "appsink" && i > 0 && words[i-1] == "!" {
			words = words[:i-1]
			break
		}
	}
	for _, w := range words {
		if strings.HasPrefix(w, "-") { // an option of gst-launch is no part of a pipeline
			return nil, fmt.Errorf("%q is no element; leave it out", w)
		}
	}
	args := append([]string{"-v"}, words...)
	live := !o.Frames && startsLive.MatchString(spec)
	if live { // only the newest frame is kept; a short file would lose all its frames
		args = append(args, "!", "queue", "leaky=downstream", "max-size-buffers=1")
	}
	// By the frame clock nothing waits for the time of day, and cameras have their own
	// pace. Only files are paced.
	sync := !o.Frames && !live
	return append(args, "!", "videoconvert", "!", "video/x-raw,format=(string){GRAY8,GRAY16_LE,BGR}",
		"!", "fdsink", "name="+sinkName, "fd=3", fmt.Sprintf("sync=%t", sync)), nil
}

const sinkName = "halocue-eye"

var capsFormat = map[string]int{"GRAY8": 1, "GRAY16_LE": 2, "BGR": 3}

// watchCaps reads what gst-launch -v prints and sends the format at our sink.
func watchCaps(r io.Reader, agreed chan<- format) {
	lines := bufio.NewReaderSize(r, 64<<10)
	for {
		text, err := lines.ReadSlice('\n')
		line := string(text)
		if errors.Is(err, bufio.ErrBufferFull) { // the rest comes as lines of their own
			err = nil
		}
		if strings.Contains(line, ":"+sinkName+".GstPad:sink: caps = video/x-raw") {
			if f, ok := parseCaps(line); ok {
				select {
				case agreed <- f:
				default: // a later change is ignored
				}
			}
		}
		if err != nil {
			return
		}
	}
}

var capsField = regexp.MustCompile(`(format|width|height)=\((?:string|int)\)([A-Za-z0-9_]+)`)

func parseCaps(line string) (f format, ok bool) {
	for _, m := range capsField.FindAllStringSubmatch(line, -1) {
		n, _ := strconv.Atoi(m[2]) // 0 where it is no number: refused below
		switch m[1] {
		case "format":
			f.bytes = capsFormat[m[2]]
		case "width":
			f.width = n
		case "height":
			f.height = n
		}
	}
	return f, f.bytes > 0 && f.width > 0 && f.height > 0 && f.width <= size.MaxLive/f.height
}

func (p *process) read(f *frame.Frame) error {
	f.Resize(p.width, p.height)
	f.Name, f.White = "", 255
	if p.bytes == 2 {
		f.White = 65535
	}
	for y := range p.height {
		if _, err := io.ReadFull(p.pixels, p.row); err != nil {
			return p.ended(y > 0)
		}
		still.Row(f.Pix[y*p.width:][:p.width], p.row, p.bytes)
	}
	return nil
}

// ended says why there are no more pictures.
func (p *process) ended(within bool) error {
	p.pixels.Close() // one that still writes ends now
	<-p.exited
	switch {
	case p.status != nil:
		return lost("%s; check the camera and its cable", said(p.words))
	case p.live || within:
		return lost("the pipeline ended; check the camera and its cable")
	}
	return io.EOF
}

func (p *process) interrupt() {
	_ = p.cmd.Process.Kill() // it may have ended by itself
}

func (p *process) release() {
	p.interrupt()
	<-p.exited
	p.pixels.Close()
}

// said says the first error that a program wrote, in few words.
func said(w *confine.Said) string {
	text := strings.TrimSpace(w.String())
	for _, line := range strings.Split(text, "\n") {
		for _, mark := range []string{"ERROR: ", "WARNING: erroneous pipeline: "} {
			if _, what, ok := strings.Cut(line, mark); ok {
				return what
			}
		}
	}
	if text == "" {
		return "it ended without a word"
	}
	first, _, _ := strings.Cut(text, "\n")
	return first
}
