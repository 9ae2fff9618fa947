package config

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// unknown is the error for a name that is none of the known ones.
func unknown[V any](name string, known map[string]V) error {
	names := slices.Sorted(maps.Keys(known))
	return fmt.Errorf("%q is not a setting; the nearest is %q", name, nearest(name, names))
}

// Nearest returns the name that was probably meant; false where none is near.
func Nearest(name string, names []string) (string, bool) {
	if len(names) == 0 {
		return "", false
	}
	n := nearest(name, names)
	return n, distance(name, n) <= max(1, min(2, len(name)-2), len(name)/3)
}

// nearest returns the name with the least edit distance, of the whole or of the
// part after the last dot: a key in the wrong section, or in none, is found too.
func nearest(name string, names []string) string {
	off := func(other string) int {
		return 2*distance(last(name), last(other)) + distance(name, other)
	}
	return slices.MinFunc(names, func(a, b string) int { return off(a) - off(b) })
}

func last(path string) string { return path[strings.LastIndex(path, ".")+1:] }

// distance counts the letters to insert, drop or change to turn a into b
// (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		corner := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := corner
			if a[i] != b[j] {
				change++
			}
			corner = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
