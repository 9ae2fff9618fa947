package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"halocue": main})
}

// Each script in testdata/script runs the real program and reads what it says.
func TestScripts(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(env *testscript.Env) error {
			env.Setenv("HOME", env.WorkDir)
			stars, err := filepath.Abs("../../testdata/stars")
			env.Setenv("STARS", stars)
			return err
		},
		UpdateScripts: os.Getenv("UPDATE_SCRIPTS") != "",
	})
}
