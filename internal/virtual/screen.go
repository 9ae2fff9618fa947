package virtual

type screens struct{}
