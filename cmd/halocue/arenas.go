//go:build cgo

package main

// #include <malloc.h>
import "C"

// The C library keeps 64 MB of address space for each thread that asks it for memory,
// unless it is told to share.
func init() { C.mallopt(C.M_ARENA_MAX, 2) }
