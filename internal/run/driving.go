package run

import (
	"errors"

	"halocue/internal/cue"
	"halocue/internal/observe"
	"halocue/internal/platform/drive"
	"halocue/prompts"
)

// driving is what motors do in the hands' stead.
type driving struct {
	asked  map[int]drive.Task // what is begun once the words of a cue are out
	later  drive.Task         // what is begun as soon as a hand that is still at work lets go
	newest observe.Sight
}

// driveCodes are the words that go before each task.
var driveCodes = map[drive.Task]string{
	drive.Centre: "drive-centre", drive.Larger: "drive-focus", drive.Smaller: "drive-focus", drive.Through: "drive-through",
}

// driveTask is what motors could do of what the coach asks.
func driveTask(c cue.Cue) drive.Task {
	switch {
	case c.Action == cue.Recentre:
		return drive.Centre
	case c.Action == cue.OtherSide:
		return drive.Through
	case c.Action == cue.Defocus && c.Direction == cue.More:
		return drive.Larger
	case c.Action == cue.Defocus && c.Direction == cue.Less:
		return drive.Smaller
	}
	return drive.None
}

// cue is what the coach asks for, as it is said: where motors do it, that they will.
func (n *night) cue(c cue.Cue) prompts.Cue {
	n.driving.later = drive.None
	if n.asking == nil {
		n.asking = map[int]cue.Cue{}
	}
	n.asking[c.ID] = c
	task := driveTask(c)
	if n.Drive == nil || task == drive.None {
		return c
	}
	if !n.Drive.Can(task, n.driving.newest) {
		n.Drive.Passed(task)
		return c
	}
	if n.driving.asked == nil {
		n.driving.asked = map[int]drive.Task{}
	}
	n.driving.asked[c.ID] = task
	return prompts.Cue{ID: c.ID, Code: driveCodes[task]}
}

// drive has the motors begin what was said, now that the words of a cue are out.
func (n *night) drive(id int, t float64) {
	task := n.driving.asked[id]
	delete(n.driving.asked, id)
	switch {
	case task == drive.None:
	case !n.Drive.Can(task, n.driving.newest):
		n.driven(t, drive.Report{Doubt: errOutOfSight})
	default:
		n.begin(task, t)
	}
}

// errOutOfSight is why motors do not begin what was said.
var errOutOfSight = errors.New("the star went out of sight before the motors began; bring it back by hand")

// begin has the motors do a task, now or once the hand lets go of the telescope.
func (n *night) begin(task drive.Task, t float64) {
	n.driving.later = drive.None
	switch {
	case !n.Drive.Can(task, n.driving.newest):
	case n.Coach.Driven(t):
		n.driven(t, n.Drive.Begin(task, n.driving.newest))
	default:
		n.driving.later = task
	}
}

// undrive forgets a task whose words are cut short: nothing moves unannounced.
func (n *night) undrive() {
	if n.spoken != nil {
		delete(n.driving.asked, n.spoken.Cue.ID)
	}
}

// driveOn shows the drive what a frame told.
func (n *night) driveOn(t float64, s observe.Sight) {
	if n.Drive == nil {
		return
	}
	s.T = t
	n.driving.newest = s
	n.driven(t, n.Drive.See(s))
	if n.driving.later != drive.None {
		n.begin(n.driving.later, t)
	}
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
