package config

import (
	"fmt"
	"maps"
	"slices"
)

// unknown is the error for a name that is none of the known ones.
func unknown[V any](name string, known map[string]V) error {
	names := slices.Sorted(maps.Keys(known))
	return fmt.Errorf("%q is not a setting; the nearest is %q", name, nearest(name, names))
}

// nearest returns the name with the least edit distance.
func nearest(name string, names []string) string {
	return slices.MinFunc(names, func(a, b string) int { return distance(name, a) - distance(name, b) })
}

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
