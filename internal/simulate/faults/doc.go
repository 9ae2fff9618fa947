// Package faults damages frames as sky and camera do. Its tests cause the faults of a
// night in the field with real parts, and compare what is heard and what is lost with
// docs/faults.md: sky, camera and sound here; processes, disks and the computer itself
// in cmd/halocue.
package faults
