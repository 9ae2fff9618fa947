// Package cost measures what a whole night costs: 1280x960 MJPEG at 30 frames a second
// for 30 seconds through halocue, without a voice, with a voice that says everything for
// the first time, and with one that has spoken before. Processor time is compared with
// that of FFmpeg, which decodes the same frames to grey and does nothing else. It holds a
// benchmark only.
package cost
