package sky_test

import (
	"fmt"
	"time"

	"halocue/internal/sky"
	"halocue/prompts"
)

// Which star to point at tonight, said as a person would point.
func ExampleChoose() {
	wish := sky.Wish{
		Site:       sky.Site{LatitudeDeg: 52, LongitudeDeg: 5},
		At:         time.Date(2026, 12, 1, 21, 0, 0, 0, time.UTC),
		RoofDeg:    30,
		ApertureMM: 200,
		Tracking:   true,
	}
	words, err := prompts.NewSentences("en")
	if err != nil {
		panic(err)
	}
	choices := sky.Choose(wish)
	if len(choices) == 0 {
		fmt.Println("no star suits: the Sun is up, or all are behind the roof")
		return
	}
	fmt.Println(choices[0].Say(words.Say, wish.RoofDeg))
	// Output:
	// Capella, high in the east, six fists above the horizon, three fists above the roof line.
}

func ExampleSite_SunDown() {
	site := sky.Site{LatitudeDeg: 52, LongitudeDeg: 5}
	noon := time.Date(2026, 6, 21, 12, 0, 0, 0, time.UTC)
	dusk, ok := site.SunDown(noon)
	fmt.Println(dusk.Format("15:04 MST"), ok)
	// Output:
	// 20:54 UTC true
}
