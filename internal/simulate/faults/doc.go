// Package faults causes the faults of a night in the field with real parts, and compares what
// is heard and what is lost with docs/faults.md: sky, camera and sound here; processes, disks
// and the computer itself in cmd/halocue. A soak is hours of nights full of them. It holds
// tests only.
package faults
