package camera

import (
	"strings"
	"testing"

	"halocue/vision/still/size"
)

// Whatever a pipeline's text holds, its words stay words: none becomes an option of
// gst-launch, and the end is ours.
func FuzzPipelineArgs(f *testing.F) {
	for _, s := range []string{
		"videotestsrc ! videoconvert", `filesrc location="a b" ! decodebin ! appsink`, "-q ! x", `a ! "$(touch x)" ! b`, `'--gst-plugin-path=/tmp' ! x`, "\\",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, spec string) {
		args, err := pipelineArgs(spec, Options{})
		if err != nil {
			return
		}
		for _, a := range args[1:] {
			if strings.HasPrefix(a, "-") {
				t.Errorf("%q becomes the option %q", spec, a)
			}
		}
		if args[len(args)-3] != "name="+sinkName {
			t.Errorf("%q ends in %q", spec, args)
		}
	})
}

func TestPipelineWords(t *testing.T) {
	for spec, want := range map[string]string{
		`filesrc location="a b.avi" ! decodebin`: "filesrc|location=a b.avi|!|decodebin",
		`x name='"' ! y a=\ b ! z c=""`:          "x|name=\"|!|y|a= b|!|z|c=",
		"x color=#ff0000\t! y":                   "x|color=#ff0000|!|y",
	} {
		args, err := pipelineArgs(spec, Options{})
		if got := strings.Join(args, "|"); err != nil || !strings.HasPrefix(got, "-v|"+want+"|!|videoconvert|") {
			t.Errorf("%s becomes %s, %v", spec, got, err)
		}
	}
	for _, spec := range []string{`a "b`, "a 'b", `a \`} {
		if _, err := pipelineArgs(spec, Options{}); err == nil || !strings.Contains(err.Error(), "not closed; close it") {
			t.Errorf("%s: error %v", spec, err)
		}
	}
}

// What gst-launch says is read to its end, and never gives a size out of bounds.
func FuzzWatchCaps(f *testing.F) {
	f.Add("/GstPipeline:pipeline0/GstFdSink:" + sinkName + ".GstPad:sink: caps = video/x-raw, format=(string)GRAY8, width=(int)640, height=(int)480\n")
	f.Add(strings.Repeat("x", 100_000))
	f.Fuzz(func(t *testing.T, text string) {
		agreed := make(chan format, 1)
		watchCaps(strings.NewReader(text), agreed)
		select {
		case got := <-agreed:
			if got.width < 1 || got.height < 1 || got.width*got.height > size.MaxLive || got.bytes < 1 || got.bytes > 3 {
				t.Errorf("%+v", got)
			}
		default:
		}
	})
}
