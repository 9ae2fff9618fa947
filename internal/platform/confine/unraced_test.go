//go:build !race

package confine

// outOfMemory is what is said of a process that had too much.
const outOfMemory = "more memory than"
