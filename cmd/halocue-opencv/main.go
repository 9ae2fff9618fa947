// Command halocue-opencv is the part of halocue that is linked with OpenCV. Halocue
// starts it to decode a video file or to read a V4L2 camera; see vision/camera/opencv.
package main

import (
	"fmt"
	"os"

	_ "halocue/vision/camera/opencv" // does all of it, before main
)

func main() {
	fmt.Fprintln(os.Stderr, "halocue-opencv: halocue starts this program by itself; run halocue")
	os.Exit(2)
}
