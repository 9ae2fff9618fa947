package buttons

import (
	"encoding/binary"
	"fmt"
	"io"
	"strconv"

	"halocue/audio/command"
)

// The numbers are Linux's, from linux/input-event-codes.h.
const (
	eventKey  = 1
	touch     = 0x140 // to 0x15f: a finger on a pad is no button
	lastTouch = 0x15f
)

// own are the keys with a command of their own, on devices with more than one key.
var own = map[uint16]command.Command{
	115: command.Louder,    // volume up
	114: command.Quieter,   // volume down
	104: command.Back,      // page up: a presenter's other key
	105: command.Back,      // left
	103: command.Louder,    // up
	108: command.Quieter,   // down
	19:  command.Repeat,    // R
	31:  command.Status,    // S
	22:  command.Undo,      // U
	37:  command.WhichKnob, // K
	24:  command.OtherSide, // O
	49:  command.Next,      // N
	32:  command.Did,       // D
	38:  command.TakeTime,  // L, longer
	35:  command.Help,      // H
	33:  command.Finished,  // F
	20:  command.Star,      // T
	78:  command.Faster,    // keypad plus
	74:  command.Slower,    // keypad minus
}

// mute are the keys that mean nothing: those that are held with others, locks, and
// those that the system acts upon itself.
var mute = map[uint16]bool{
	29: true, 42: true, 54: true, 56: true, 97: true, 100: true, 125: true, 126: true, // control, shift, alt, meta
	58: true, 69: true, 70: true, // locks
	113: true, 116: true, 142: true, 143: true, // mute, power, sleep, wake up
}

// means returns what a key does: a command of its own, or (any) that of the one key.
func means(code uint16) (c command.Command, any bool) {
	if c, ok := own[code]; ok {
		return c, false
	}
	return "", !mute[code] && (code < touch || code > lastTouch)
}

// eventSize is that of struct input_event: two longs, type, code and value.
const eventSize = 2*strconv.IntSize/8 + 8

// readKey returns the next key event: 1 for down, 0 for up, 2 for its repetition.
func readKey(r io.Reader) (code uint16, value int32, err error) {
	var buf [eventSize]byte
	for {
		if _, err := io.ReadFull(r, buf[:]); err != nil {
			return 0, 0, fmt.Errorf("read a key: %w", err)
		}
		tail := buf[eventSize-8:]
		if binary.NativeEndian.Uint16(tail) == eventKey {
			return binary.NativeEndian.Uint16(tail[2:]), int32(binary.NativeEndian.Uint32(tail[4:])), nil
		}
	}
}
