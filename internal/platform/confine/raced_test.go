//go:build race

package confine

// outOfMemory is what is said of a process that had too much: the race detector's own
// memory ends first, in its own words.
const outOfMemory = "crashed"
