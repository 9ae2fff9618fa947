package config_test

import (
	"fmt"

	"halocue/config"
)

// Settings from the text of a file: what it does not set keeps its built-in value.
func ExampleParse() {
	c, err := config.Parse(`
[telescope]
aperture_mm = 200
focal_length_mm = 1000
`)
	if err != nil {
		fmt.Println(err)
		return
	}
	mm, assumed := c.Camera.Pixel()
	fmt.Printf("F/%.0f, pixel %.5f mm, assumed: %t\n", c.Optics().FocalRatio(), mm, assumed)

	// A mistyped name is refused.
	_, err = config.Parse("[telescope]\napperture_mm = 200\n")
	fmt.Println(err)
	// Output:
	// F/5, pixel 0.00375 mm, assumed: true
	// "telescope.apperture_mm" is not a setting; the nearest is "telescope.aperture_mm"
}

// Edit changes a value in a person's file and nothing else: remarks stay.
func ExampleEdit() {
	text := "[telescope]\naperture_mm = 200 # on the tube\nfocal_length_mm = 1000\n"
	c, err := config.Parse(text)
	if err != nil {
		fmt.Println(err)
		return
	}
	c.Telescope.ApertureMM = 203
	text, err = config.Edit(text, c)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Print(text)
	// Output:
	// [telescope]
	// aperture_mm = 203 # on the tube
	// focal_length_mm = 1000
}
