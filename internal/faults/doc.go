// Package faults spoils frames as sky and camera do. Its tests cause what goes wrong
// in a field, for real, and hold what is heard and what is lost against
// docs/faults.md: sky, camera and sound here; processes, disks and the computer
// itself in cmd/halocue.
package faults
