// Package byear proves a night by ear: whole nights in which nothing but sound
// lies between the program and the hands. It holds tests only.
package byear
