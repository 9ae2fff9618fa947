//go:build cgo

package main

// The C library keeps 64 MB of address space for each thread that asks it for memory,
// unless it is told to share: before the Go runtime and OpenCV start theirs.

// #include <malloc.h>
// __attribute__((constructor)) static void share(void) { mallopt(M_ARENA_MAX, 2); }
import "C"
