// Package pictures draws the pictures of README.md and docs from the virtual telescope: a
// ring out of true and in true, one collimation against time, and how well a ring is
// measured. It holds tests only; make pictures has them write what they draw.
package pictures
