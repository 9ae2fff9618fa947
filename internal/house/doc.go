// Package house holds the rules of the house, as tests: what may import what,
// what builds without C, how long a file may be, and that the documents are true.
package house
