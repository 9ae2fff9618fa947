// Package board looks after the small computer itself: it puts out the lights on
// its board for a dark-adapted eye, and notices when power or memory run short.
//
// All of this is done by files of the kernel. The root of their tree is a parameter: "/",
// or in a test a folder that looks like it.
package board

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Lights are lights that were put out, and how they were before.
type Lights struct {
	keep string
	led  []led
}

// led is one light as the kernel shows it (Documentation/leds/leds-class.rst): a
// brightness, 0 being out, and what triggers it ("none" nothing).
type led struct{ Dir, Brightness, Trigger string }

// Dark puts out all lights under root/sys/class/leds that may be written. It returns an
// error for the others, and the Lights too, because those that are out must be restored.
// The earlier state is kept in the file keep ("" for nowhere), so that a program that was
// killed can restore it when it is started again: an earlier state in that file counts,
// not what the lights show now.
func Dark(root, keep string) (*Lights, error) {
	l := &Lights{keep: keep}
	before, err := l.recall()
	if err != nil {
		return l, err
	}
	dirs, err := filepath.Glob(filepath.Join(root, "sys/class/leds/*"))
	if err != nil {
		return l, err
	}
	var errs []error
	for _, dir := range dirs {
		one, err := read(dir)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if old, ok := before[dir]; ok {
			one = old
		}
		l.led = append(l.led, one)
	}
	// Written down before the first is put out.
	errs = append(errs, l.remember())
	out := l.led[:0]
	for _, one := range l.led {
		if err := one.write("none", "0"); err != nil {
			errs = append(errs, err)
			if errors.Is(err, fs.ErrPermission) {
				continue // it is as it was
			}
		}
		out = append(out, one)
	}
	l.led = out
	return l, errors.Join(errs...)
}

// Restore sets the lights back to their earlier state.
func (l *Lights) Restore() error {
	var errs []error
	for _, one := range l.led {
		errs = append(errs, one.write(one.Trigger, one.Brightness))
	}
	if l.keep != "" {
		if err := os.Remove(l.keep); err != nil && !errors.Is(err, fs.ErrNotExist) {
			errs = append(errs, fmt.Errorf("forgetting how the lights were: %w; remove %s", err, l.keep))
		}
	}
	return errors.Join(errs...)
}

func read(dir string) (led, error) {
	brightness, err := os.ReadFile(filepath.Join(dir, "brightness"))
	if err != nil {
		return led{}, fmt.Errorf("reading the light %s: %w", filepath.Base(dir), err)
	}
	one := led{Dir: dir, Brightness: strings.TrimSpace(string(brightness))}
	// Without the kernel's triggers there is no such file.
	triggers, err := os.ReadFile(filepath.Join(dir, "trigger"))
	if errors.Is(err, fs.ErrNotExist) {
		return one, nil
	}
	one.Trigger = chosen(string(triggers))
	return one, err
}

// chosen is the trigger in brackets: "none [mmc0] timer" is mmc0.
func chosen(triggers string) string {
	if _, rest, ok := strings.Cut(triggers, "["); ok {
		name, _, _ := strings.Cut(rest, "]")
		return name
	}
	return strings.TrimSpace(triggers)
}

// write sets brightness and trigger. The brightness is written between two triggers: the
// kernel forgets the trigger at a brightness of 0, and a new trigger begins from the
// present brightness.
func (l led) write(trigger, brightness string) error {
	set := func(name, value string) error {
		f, err := os.OpenFile(filepath.Join(l.Dir, name), os.O_WRONLY|os.O_TRUNC, 0) // never made where it is not
		if err != nil {
			return err
		}
		_, err = f.WriteString(value)
		return errors.Join(err, f.Close())
	}
	var err error
	if l.Trigger != "" {
		err = set("trigger", "none")
	}
	if err == nil {
		err = set("brightness", brightness)
	}
	if err == nil && l.Trigger != "" && trigger != "none" {
		err = set("trigger", trigger)
	}
	if err != nil {
		return fmt.Errorf("setting the light %s: %w; as root: chgrp halocue %s/brightness %s/trigger and chmod g+w the same, or cover it",
			filepath.Base(l.Dir), err, l.Dir, l.Dir)
	}
	return nil
}

// recall reads how the lights were when a program that never restored them began.
func (l *Lights) recall() (map[string]led, error) {
	if l.keep == "" {
		return nil, nil
	}
	b, err := os.ReadFile(l.keep)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var list []led
	if err == nil {
		err = json.Unmarshal(b, &list)
	}
	if err != nil {
		return nil, fmt.Errorf("reading how the lights were: %w; remove %s, and set the lights by hand", err, l.keep)
	}
	before := map[string]led{}
	for _, one := range list {
		before[one.Dir] = one
	}
	return before, nil
}

func (l *Lights) remember() error {
	if l.keep == "" || len(l.led) == 0 {
		return nil
	}
	b, err := json.Marshal(l.led)
	if err == nil {
		err = os.WriteFile(l.keep, b, 0o600)
	}
	if err != nil {
		return fmt.Errorf("keeping how the lights were: %w; a program that is killed now leaves them out", err)
	}
	return nil
}
