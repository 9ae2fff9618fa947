package guide

import (
	"errors"

	"halocue/internal/coach"
	"halocue/internal/drive"
	"halocue/prompts"
)

// driving is what motors do in the hands' stead.
type driving struct {
	asked map[int]drive.Task // what is begun once the words of a cue are out
	look  drive.Look         // the newest
}

// driveCodes are the words that go before each task.
var driveCodes = map[drive.Task]string{
	drive.Centre: "drive-centre", drive.Larger: "drive-focus", drive.Smaller: "drive-focus", drive.Through: "drive-through",
}

// driveTask is what motors could do of what the coach asks.
func driveTask(c coach.Cue) drive.Task {
	switch {
	case c.Action == coach.Recentre:
		return drive.Centre
	case c.Action == coach.OtherSide:
		return drive.Through
	case c.Action == coach.Defocus && c.Direction == coach.More:
		return drive.Larger
	case c.Action == coach.Defocus && c.Direction == coach.Less:
		return drive.Smaller
	}
	return drive.None
}

// cue is what the coach asks for, as it is said: where motors do it, that they will.
func (n *night) cue(c coach.Cue) prompts.Cue {
	said := prompts.Cue{ID: c.ID, Code: c.Code, Action: string(c.Action), Knob: c.Knob, Direction: c.Direction, Turns: c.Turns, Result: c.Result, Args: c.Args}
	task := driveTask(c)
	if n.Drive == nil || task == drive.None {
		return said
	}
	if !n.Drive.Can(task, n.driving.look) {
		n.Drive.Passed(task)
		return said
	}
	if n.driving.asked == nil {
		n.driving.asked = map[int]drive.Task{}
	}
	n.driving.asked[c.ID] = task
	return prompts.Cue{ID: c.ID, Code: driveCodes[task]}
}

// drive has the motors begin what was said, now that the words of a cue are out.
func (n *night) drive(id int, t float64) {
	task, ok := n.driving.asked[id]
	delete(n.driving.asked, id)
	if ok && n.Drive.Can(task, n.driving.look) && n.Coach.Driven(t) {
		n.driven(t, n.Drive.Begin(task, n.driving.look))
	}
}

// undrive forgets a task whose words are cut short: nothing moves unannounced.
func (n *night) undrive() {
	if n.spoken != nil {
		delete(n.driving.asked, n.spoken.Cue.ID)
	}
}

// driveOn shows the drive what a frame told.
func (n *night) driveOn(t float64, s coach.Sight) {
	if n.Drive == nil {
		return
	}
	n.driving.look = drive.Look{
		T: t, Width: s.Width, Height: s.Height, Seen: s.Seen, Star: s.Star, Found: s.Found, Radius: s.Radius,
		Danger: s.Why == "too-bright",
	}
	n.driven(t, n.Drive.See(n.driving.look))
}

// stopDriving ends what the motors are at, if anything.
func (n *night) stopDriving(t float64) {
	if n.Drive != nil {
		n.driven(t, n.Drive.Stop())
	}
}

// driven writes down what the drive did, and has it said where it gave up.
func (n *night) driven(t float64, r drive.Report) {
	event := deviceEvent{T: round(t, 3), Event: "device", Device: "drive", State: "moves", Detail: r.Moved}
	switch {
	case r.Done:
		event.State = "arrived"
		n.Coach.Arrived(t, r.Through)
	case r.Doubt != nil:
		event.State, event.Detail = "stopped", r.Doubt.Error()
		n.Coach.Arrived(t, false)
		if !errors.Is(r.Doubt, drive.ErrTold) {
			n.note(n.Narrator.Add(t, prompts.Cue{Code: "drive-stopped"}))
		}
	case r.Moved == "":
		return
	}
	n.record(event)
}
