package house

// room is what the plan says of one package.
type room struct {
	// knows lists which of our own packages it may import, outside of tests. A name
	// that ends in /... also stands for all below it.
	knows []string
	// needsC says that it, or something it imports, is built with a C compiler.
	needsC bool
	// onlyTests says that nothing but tests, and other such packages, imports it.
	onlyTests bool
}

// plan has every package of the repository, by its path from the root. Frames become
// measurements in vision, measurements become cues in internal/coach, cues become words
// in prompts and sound in audio; internal/run runs that, and cmd is the command line. What
// works with numbers alone needs no C compiler, and knows no camera and no sound card.
var plan = map[string]room{
	// The command line. It may bring anything together.
	"cmd/halocue": {knows: []string{"audio/...", "config", "internal/...", "vision/..."}, needsC: true},
	// What of it is linked with OpenCV, and started only where that is needed.
	"cmd/halocue-opencv": {knows: []string{"vision/camera/opencv"}, needsC: true},
	"scripts/cost":       {onlyTests: true},
	"scripts/mutate":     {},
	"docs/pictures":      {onlyTests: true},

	"config": {knows: []string{"internal/optics", "internal/plain"}},

	// From light to measurements.
	"vision":          {knows: []string{"vision/frame"}},
	"vision/baseline": {onlyTests: true},
	"vision/camera": {knows: []string{
		"internal/plain", "internal/platform/confine", "internal/platform/indi", "vision", "vision/camera/...", "vision/frame", "vision/still/...", "vision/still",
	}, needsC: true},
	"vision/camera/opencv":   {knows: []string{"internal/platform/confine", "vision/still/size"}, needsC: true},
	"vision/camera/exposure": {knows: []string{"vision/frame", "vision/robust"}},
	"vision/camera/jpeg":     {knows: []string{"vision/frame", "vision/still/size"}, needsC: true},
	"vision/camera/mjpeg":    {},
	"vision/centroid":        {knows: []string{"vision/frame", "vision/robust"}},
	"vision/frame":           {},
	"vision/peephole":        {knows: []string{"vision/frame", "vision/robust"}},
	"vision/ring":            {knows: []string{"internal/optics", "vision/centroid", "vision/frame", "vision/robust"}},
	"vision/robust":          {},
	"vision/spikes":          {knows: []string{"vision", "vision/frame", "vision/robust"}},
	"vision/still":           {knows: []string{"internal/plain", "vision/frame", "vision/still/..."}, needsC: true},
	"vision/still/fits":      {knows: []string{"internal/platform/confine", "vision/still/size"}, needsC: true},
	"vision/still/size":      {},
	"vision/visiontest":      {knows: []string{"vision", "vision/frame"}, onlyTests: true},

	// From cues to sound, and from a person back.
	"audio":                   {},
	"audio/resample":          {needsC: true},
	"audio/buttons":           {knows: []string{"audio/command"}},
	"audio/command":           {},
	"audio/device":            {knows: []string{"audio"}, needsC: true},
	"audio/device/devicetest": {onlyTests: true},
	"audio/ears":              {knows: []string{"audio", "audio/command", "audio/internal/..."}},
	"audio/internal/endpoint": {},
	"audio/internal/sphinx":   {},
	"audio/listener":          {knows: []string{"audio/internal/..."}, onlyTests: true},
	"audio/listener/aubio":    {needsC: true, onlyTests: true},
	"prompts":                 {knows: []string{"internal/cue", "internal/words"}},
	"prompts/voice":           {knows: []string{"audio", "audio/resample", "internal/plain"}, needsC: true},

	// From measurements to cues.
	"internal/coach":     {knows: []string{"audio/command", "internal/cue", "internal/estimate", "internal/hands", "internal/optics"}},
	"internal/coach/day": {knows: []string{"audio/command", "internal/coach", "internal/cue", "internal/hands", "internal/observe", "internal/optics", "vision/robust"}},
	"internal/coach/night": {knows: []string{"audio/command", "internal/coach", "internal/cue", "internal/estimate", "internal/hands",
		"internal/observe", "internal/optics"}},
	"internal/cue":      {},
	"internal/estimate": {knows: []string{"internal/optics"}},
	"internal/hands":    {},
	"internal/observe":  {},
	"internal/optics":   {},

	// A night's loop.
	"internal/run": {knows: []string{"audio", "audio/command", "internal/coach", "internal/cue", "internal/measure", "internal/observe", "internal/platform/drive",
		"internal/record", "prompts", "vision", "vision/frame", "vision/ring", "vision/robust"}},
	"internal/run/byear": {onlyTests: true},

	// What is made of the settings for it: the parts, the voice outside of a night, and all
	// that lies around one.
	"internal/run/parts": {knows: []string{
		"audio", "audio/device", "audio/ears", "config", "internal/coach", "internal/coach/day", "internal/coach/night", "internal/cue", "internal/measure",
		"internal/observe", "internal/plain", "internal/platform/board", "internal/platform/drive", "internal/platform/drive/motors",
		"internal/run", "internal/sky", "prompts", "prompts/voice", "vision", "vision/camera", "vision/camera/exposure", "vision/frame",
		"vision/peephole", "vision/ring",
	}, needsC: true},
	"internal/run/aloud": {knows: []string{
		"audio", "audio/device", "audio/ears", "config", "internal/run", "internal/run/parts", "internal/setup",
		"prompts/voice",
	}, needsC: true},
	"internal/run/session": {knows: []string{
		"audio", "audio/buttons", "audio/command", "audio/device", "audio/ears", "config", "internal/coach",
		"internal/cue", "internal/journal", "internal/plain", "internal/platform/board", "internal/platform/drive", "internal/record", "internal/run",
		"internal/run/aloud", "internal/run/parts", "internal/sky", "prompts", "prompts/voice", "vision",
		"vision/ring", "vision/camera/jpeg", "vision/frame", "vision/still",
	}, needsC: true},

	// What stands beside it, each with a command.
	"internal/checkup": {knows: []string{
		"audio/device", "config", "internal/journal", "internal/record", "internal/run/aloud", "internal/run/parts", "prompts", "prompts/voice",
		"vision", "vision/camera", "vision/ring",
	}, needsC: true},
	"internal/journal": {knows: []string{"config"}},
	"internal/measure": {knows: []string{"internal/optics", "internal/plain", "vision/frame", "vision/ring", "vision/robust"}},
	"internal/platescale": {knows: []string{
		"config", "internal/measure", "internal/optics", "internal/sky", "vision", "vision/frame", "vision/ring", "vision/robust",
	}},
	"internal/repeatability": {knows: []string{
		"internal/measure", "internal/optics", "internal/plain", "vision", "vision/frame", "vision/ring", "vision/robust",
	}},
	"internal/record": {knows: []string{"internal/coach", "internal/observe", "vision/frame"}},
	"internal/report": {knows: []string{"internal/coach", "internal/journal", "internal/optics", "internal/plain", "prompts"}},
	"internal/setup":  {knows: []string{"config", "internal/words"}},
	"internal/plain":  {},
	"internal/sky":    {knows: []string{"internal/words"}},
	"internal/words":  {},

	// The computer, and the machines on its network.
	"internal/platform/board":                   {},
	"internal/platform/confine":                 {},
	"internal/platform/drive":                   {knows: []string{"internal/observe"}},
	"internal/platform/drive/motors":            {knows: []string{"internal/platform/indi"}},
	"internal/platform/drive/motors/motorstest": {knows: []string{"internal/platform/indi/..."}, onlyTests: true},
	"internal/platform/indi":                    {knows: []string{"internal/plain"}},
	"internal/platform/indi/inditest":           {onlyTests: true},

	// What is not real: for demo, practice, tests and benchmarks alone.
	"internal/simulate/faults":  {onlyTests: true},
	"internal/simulate/indoors": {knows: []string{"internal/cue", "internal/simulate/telescope", "vision/frame"}},
	"internal/simulate/nights": {knows: []string{"audio", "audio/command", "internal/coach", "internal/coach/night", "internal/cue", "internal/observe",
		"internal/optics", "internal/simulate/telescope", "prompts"}, onlyTests: true},
	"internal/simulate/practice": {knows: []string{
		"audio/command", "audio/device", "config", "internal/cue", "internal/run", "internal/run/aloud",
		"internal/run/parts", "internal/run/session", "internal/simulate/telescope", "internal/simulate/virtual",
		"prompts", "vision", "vision/frame",
	}, needsC: true},
	"internal/simulate/telescope": {knows: []string{"internal/cue", "internal/observe", "internal/optics", "vision/frame"}},
	"internal/simulate/virtual":   {knows: []string{"config", "internal/cue", "internal/simulate/indoors", "internal/simulate/telescope", "vision"}},

	"internal/house": {onlyTests: true},
}
