// Package faults causes what goes wrong in a field, for real, and holds what is
// heard and what is lost against docs/faults.md. It is tests only: sky, camera
// and sound here; processes, disks and the computer itself in cmd/halocue.
package faults
