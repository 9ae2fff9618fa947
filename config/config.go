// Package config holds what a person sets once: telescope, camera, mirror cell,
// sound, voice and place. Settings come from the built-in defaults, one TOML
// file, HALOCUE_* variables and flags, each over the one before.
//
// The struct is the only list of settings. Its tags name the key, the range and
// unit that a value is checked against, and the flag; the field's line in
// halocue.toml is the text that a person reads.
package config

import (
	_ "embed"

	"halocue/internal/optics"
)

// Shipped is the commented settings file; it sets every key to its default.
//
//go:embed halocue.toml
var Shipped string

// Config is every setting. A zero number means "not known" wherever the range
// tag says "or 0".
type Config struct {
	Telescope  Telescope  `mapstructure:"telescope"`
	Camera     Camera     `mapstructure:"camera"`
	MirrorCell MirrorCell `mapstructure:"mirror_cell"`
	Sound      Sound      `mapstructure:"sound"`
	Voice      Voice      `mapstructure:"voice"`
	Coach      Coach      `mapstructure:"coach"`
	Site       Site       `mapstructure:"site"`
	Board      Board      `mapstructure:"board"`
	Scale      Scale      `mapstructure:"scale"`
	Drive      Drive      `mapstructure:"drive"`
	Journal    Journal    `mapstructure:"journal"`

	// File is the settings file that was read, "" where there was none.
	File string `mapstructure:"-"`
}

// Telescope is the Newtonian itself; lengths in mm.
type Telescope struct {
	ApertureMM          float64 `mapstructure:"aperture_mm" range:"30 2000 or 0" unit:"mm" flag:"aperture-mm" help:"diameter of the main mirror"`
	FocalLengthMM       float64 `mapstructure:"focal_length_mm" range:"100 20000 or 0" unit:"mm" flag:"focal-length-mm" help:"focal length of the main mirror"`
	SecondaryMM         float64 `mapstructure:"secondary_mm" range:"5 1000 or 0" unit:"mm" flag:"secondary-mm" help:"minor axis of the secondary mirror, 0 not known"`
	SecondaryDistanceMM float64 `mapstructure:"secondary_distance_mm" range:"50 20000 or 0" unit:"mm" flag:"secondary-distance-mm" help:"from main mirror to secondary, 0 not known"`
	Corrector           bool    `mapstructure:"corrector" flag:"corrector" help:"a coma corrector or corrector lens is in the light path"`
}

// Camera is where the frames come from and what its pixels are.
type Camera struct {
	Source   string    `mapstructure:"source" flag:"camera" arg:"SOURCE" help:"device number or path, - for MJPEG on standard input, a file, a folder, a GStreamer pipeline, or virtual"`
	PixelUM  float64   `mapstructure:"pixel_um" range:"0.5 50 or 0" unit:"µm" flag:"pixel-um" help:"size of one pixel, 0 not known"`
	CentrePX []float64 `mapstructure:"centre_px" range:"0 20000" unit:"px" flag:"centre-px" arg:"X,Y" help:"centre of the focuser on the frame, x,y; empty is the frame's centre"`
	Barlow   float64   `mapstructure:"barlow" range:"1 10" flag:"barlow" help:"magnification of a Barlow lens before the camera, 1 none"`
}

// MirrorCell is what the hands turn.
type MirrorCell struct {
	ScrewPitchMM        float64 `mapstructure:"screw_pitch_mm" range:"0.1 5" unit:"mm" flag:"screw-pitch-mm" help:"how far one turn moves a screw"`
	ScrewCircleRadiusMM float64 `mapstructure:"screw_circle_radius_mm" range:"10 1000 or 0" unit:"mm" flag:"screw-circle-radius-mm" help:"from the mirror's centre to a screw, 0 not known"`
	Kind                string  `mapstructure:"kind" choices:"spring push-pull screws" flag:"cell-kind" help:"spring, push-pull or screws"`
	Locks               bool    `mapstructure:"locks" flag:"locks" help:"the knobs have locks"`
	Knobs               []Knob  `mapstructure:"knobs" flag:"knobs" arg:"LIST" help:"the three knobs as name=clock, by commas"`
}

// Knob is one of the three adjusters.
type Knob struct {
	Name  string  `mapstructure:"name" json:"name"`   // as it is spoken
	Clock float64 `mapstructure:"clock" json:"clock"` // seen from behind the mirror, 12 up, the tube level
}

// Sound is the tone and where it goes.
type Sound struct {
	Output     string  `mapstructure:"output" flag:"sound" arg:"OUTPUT" help:"default, none, a FILE.wav, or a device: its number in halocue check --list, or a part of its name"`
	Volume     float64 `mapstructure:"volume" range:"0 1" flag:"volume" help:"0 silent to 1 loudest"`
	DelayMS    float64 `mapstructure:"delay_ms" range:"0 2000" unit:"ms" flag:"delay-ms" help:"how late a wireless earpiece is"`
	Mode       string  `mapstructure:"mode" choices:"pitch-and-pulse pulse words" flag:"tone" help:"pitch-and-pulse, pulse or words"`
	LowestHZ   float64 `mapstructure:"lowest_hz" range:"80 1000" unit:"Hz" flag:"lowest-hz" help:"pitch of the tone far from true"`
	HighestHZ  float64 `mapstructure:"highest_hz" range:"200 4000" unit:"Hz" flag:"highest-hz" help:"pitch of the tone at true"`
	Waveform   string  `mapstructure:"waveform" choices:"sine soft reed" flag:"waveform" help:"sine, soft or reed"`
	Curve      float64 `mapstructure:"curve" range:"0.3 3" flag:"curve" help:"1 even; more: the pitch does most of its rising near true"`
	Reference  bool    `mapstructure:"reference" flag:"reference" help:"a quiet steady tone at the goal's pitch, to compare with"`
	Microphone bool    `mapstructure:"microphone" flag:"microphone" help:"listen for spoken commands, in English"`
}

// Voice is how the words are said.
type Voice struct {
	Engine    string  `mapstructure:"engine" choices:"espeak-ng speech-dispatcher command none" flag:"voice" help:"espeak-ng, speech-dispatcher, command or none"`
	Command   string  `mapstructure:"command" flag:"voice-command" arg:"PROGRAM" help:"for the command engine: a program that reads a sentence and writes WAV"`
	Language  string  `mapstructure:"language" choices:"en de fr es it pt nl pl sv" flag:"language" help:"en, de, fr, es, it, pt, nl, pl or sv"`
	SpeedWPM  float64 `mapstructure:"speed_wpm" range:"80 450" unit:"words a minute" flag:"speed-wpm" help:"how fast the voice speaks"`
	Verbosity string  `mapstructure:"verbosity" choices:"short normal full" flag:"verbosity" help:"short, normal or full"`

	// Cache is the folder in which what was spoken is kept, "" for none.
	Cache string `mapstructure:"-"`
}

// Coach is how the person at the mirror is treated.
type Coach struct {
	Pace      string  `mapstructure:"pace" choices:"learned slow steady quick" flag:"pace" help:"how long your hands may take before you are reminded: learned, slow, steady or quick"`
	WalkSteps float64 `mapstructure:"walk_steps" range:"0 100" unit:"steps" flag:"walk-steps" help:"how many steps it is from the focuser to the knobs, 0 not known"`
}

// Site is where the telescope stands. Latitude and longitude both 0 means that
// the place is not known.
type Site struct {
	LatitudeDeg  float64 `mapstructure:"latitude" range:"-90 90" unit:"degrees" flag:"latitude" help:"degrees, north positive"`
	LongitudeDeg float64 `mapstructure:"longitude" range:"-180 180" unit:"degrees" flag:"longitude" help:"degrees, east positive"`
	ElevationM   float64 `mapstructure:"elevation_m" range:"-430 6000" unit:"m" flag:"elevation-m" help:"metres above the sea"`
	RoofLineDeg  float64 `mapstructure:"roof_line_deg" range:"0 80" unit:"degrees" flag:"roof-line-deg" help:"altitude below which nothing is seen"`
}

// Board is the small computer that halocue runs on.
type Board struct {
	Dark bool `mapstructure:"dark" flag:"dark" help:"put out the computer's own lights while guiding"`
}

// Drive is what has motors: a mount and a focuser that may be moved in the hands'
// stead. Nothing is moved where none is named.
type Drive struct {
	Tracking          bool    `mapstructure:"tracking" flag:"tracking" help:"the mount follows the sky by itself"`
	Mount             string  `mapstructure:"mount" flag:"mount" arg:"ADDRESS" help:"mount that centres the star, indi://HOST/DEVICE; empty: none"`
	Focuser           string  `mapstructure:"focuser" flag:"focuser" arg:"ADDRESS" help:"focuser that racks, indi://HOST/DEVICE; empty: none"`
	MountReachS       float64 `mapstructure:"mount_reach_s" range:"10 3600" unit:"seconds" flag:"mount-reach-s" help:"how far the mount may go from where it stood, seconds of guiding"`
	FocuserReachSteps float64 `mapstructure:"focuser_reach_steps" range:"10 1000000 or 0" unit:"steps" flag:"focuser-reach-steps" help:"how far the focuser may go from where it stood, 0 a quarter of its range"`
}

// Journal is what is kept of a night besides the journal itself.
type Journal struct {
	Record     bool    `mapstructure:"record" flag:"keep-nights" help:"record each night, with its frames, beside the journal"`
	RecordGB   float64 `mapstructure:"record_gb" range:"0.1 100000" unit:"GB" flag:"record-gb" help:"the most that all recordings together may take"`
	RecordDays float64 `mapstructure:"record_days" range:"1 10000" unit:"days" flag:"record-days" help:"how long they are kept"`
}

// Scale is what a drifting star told of the camera as it sits on the telescope;
// halocue scale writes it. It is kept for the record: the guidance needs none of it.
type Scale struct {
	ArcsecPerPX      float64 `mapstructure:"arcsec_per_px" range:"0.001 1000 or 0" unit:"arcsec" flag:"arcsec-per-px" help:"plate scale, 0 not known"`
	ArcsecPerPXSigma float64 `mapstructure:"arcsec_per_px_sigma" range:"0 1000" unit:"arcsec" flag:"arcsec-per-px-sigma" help:"its standard deviation"`
	WestDeg          float64 `mapstructure:"west_deg" range:"-180 180" unit:"degrees" flag:"west-deg" help:"where west lies on the frame, degrees clockwise from its right"`
	WestDegSigma     float64 `mapstructure:"west_deg_sigma" range:"0 180" unit:"degrees" flag:"west-deg-sigma" help:"its standard deviation"`
}

// Default returns the built-in settings: all but the telescope's two numbers,
// which nobody can guess.
func Default() Config {
	return Config{
		Camera: Camera{Source: "0", CentrePX: []float64{}, Barlow: 1},
		MirrorCell: MirrorCell{
			ScrewPitchMM: 0.8,
			Kind:         "spring",
			Knobs:        []Knob{{"left-hand", 8}, {"right-hand", 4}, {"upper", 12}},
		},
		Sound: Sound{Output: "default", Volume: 0.3, Mode: "pitch-and-pulse", LowestHZ: 220, HighestHZ: 880, Waveform: "soft", Curve: 1},
		Voice: Voice{Engine: "espeak-ng", Language: "en", SpeedWPM: 160, Verbosity: "normal"},
		Coach: Coach{Pace: "learned"},
		Site:  Site{RoofLineDeg: 20},
		Drive: Drive{MountReachS: 300},

		Journal: Journal{RecordGB: 16, RecordDays: 90},
	}
}

// Optics returns the telescope for the physics. A Barlow lens does not appear in
// it: see Camera.Pixel.
func (c Config) Optics() optics.Telescope {
	t := c.Telescope
	return optics.Telescope{
		Aperture:          t.ApertureMM,
		FocalLength:       t.FocalLengthMM,
		Secondary:         t.SecondaryMM,
		SecondaryDistance: t.SecondaryDistanceMM,
	}
}

// assumedPixel stands in for a pixel size that nobody gave, µm.
const assumedPixel = 1000 * optics.UsualPixelMM

// Pixel returns the size of one pixel at the main mirror's own focus, mm, and
// whether it had to be assumed.
//
// A Barlow of magnification m enlarges ring, offset and field alike: the star's
// coma stays what the mirror made it, h on the sensor is m times h at the focus,
// and so is d. Hence K = d/h keeps the F of the MIRROR, not m F (which would make
// K wrong by m^2 and the tolerance by m^3). So all that changes is the scale: a
// pixel of p behind the Barlow is a pixel of p/m before it, and every length
// "on the sensor" is a length at the mirror's own focus.
func (c Camera) Pixel() (mm float64, assumed bool) {
	p := c.PixelUM
	if p == 0 {
		p, assumed = assumedPixel, true
	}
	return p / 1000 / c.Barlow, assumed
}

// KnownPixel is the size that Pixel returns, or 0 where it would have to be assumed.
func (c Camera) KnownPixel() float64 {
	mm, assumed := c.Pixel()
	if assumed {
		return 0
	}
	return mm
}

// Known reports whether the two numbers are given without which nothing can be reckoned.
func (t Telescope) Known() bool { return t.ApertureMM > 0 && t.FocalLengthMM > 0 }

// ScrewRadius returns the radius of the screw circle, mm: as set, or 0.42 of
// the aperture (common practice, no source).
func (c Config) ScrewRadius() float64 {
	if r := c.MirrorCell.ScrewCircleRadiusMM; r > 0 {
		return r
	}
	return 0.42 * c.Telescope.ApertureMM
}

// Known reports whether the place was set.
func (s Site) Known() bool { return s.LatitudeDeg != 0 || s.LongitudeDeg != 0 }
