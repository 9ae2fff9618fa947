// Package command names what the person can ask for, by voice, by a button or by a
// line of text.
package command

import "slices"

// Command is what the person wants.
type Command string

// The commands. None of them can do harm when it is misheard: no command turns
// anything, and each can be taken back by another.
const (
	Repeat    Command = "repeat"
	Louder    Command = "louder"
	Quieter   Command = "quieter"
	Faster    Command = "faster"
	Slower    Command = "slower"
	Wait      Command = "wait"
	GoOn      Command = "go-on"
	Next      Command = "next"
	Back      Command = "back"
	Undo      Command = "undo"
	Status    Command = "status"
	WhichKnob Command = "which-knob"
	OtherSide Command = "other-side" // the focuser was racked through
	Finished  Command = "finished"
	Star      Command = "star"
	Help      Command = "help"
	Did       Command = "did-it" // what was asked for
	TakeTime  Command = "take-time"
	AsBefore  Command = "as-before" // takes TakeTime back; nobody says it
)

// Wake is what every spoken command begins with, so that talk and wind do nothing.
const Wake = "okay halo"

// phrases are the words of each command, after Wake. A recogniser separates two or three
// words from talk far better than one.
var phrases = []struct {
	command Command
	words   []string
}{
	{Repeat, []string{"say again", "say that again"}},
	{Louder, []string{"volume up"}},
	{Quieter, []string{"volume down"}},
	{Faster, []string{"speak faster"}},
	{Slower, []string{"speak slower"}},
	{Wait, []string{"take a break", "wait a moment"}},
	{GoOn, []string{"carry on", "i am ready"}},
	{Did, []string{"i have done it", "it is done"}},
	{TakeTime, []string{"slow down", "take your time"}},
	{Next, []string{"skip this one"}},
	{Back, []string{"one step back"}},
	{Undo, []string{"undo that"}},
	{Status, []string{"status report"}},
	{WhichKnob, []string{"which knob"}},
	{OtherSide, []string{"on the other side"}},
	{Star, []string{"choose a star"}},
	{Finished, []string{"all finished"}},
	{Help, []string{"list the commands"}},
}

// All lists the commands in the order in which they are taught.
func All() []Command {
	all := make([]Command, len(phrases))
	for i, p := range phrases {
		all[i] = p.command
	}
	return all
}

// Say is what to say for a command, for teaching: wake phrase and first wording.
func (c Command) Say() string {
	for _, p := range phrases {
		if p.command == c {
			return Wake + ", " + p.words[0]
		}
	}
	return ""
}

// Parse reads a command's name, as it comes on a line of stdin; ok says whether it
// is one.
func Parse(name string) (c Command, ok bool) {
	return Command(name), slices.Contains(All(), Command(name))
}

// Sentences are all that can be said, and meaning what each means.
func Sentences() (all []string, meaning map[string]Command) {
	meaning = map[string]Command{}
	for _, p := range phrases {
		for _, w := range p.words {
			sentence := Wake + " " + w
			all = append(all, sentence)
			meaning[sentence] = p.command
		}
	}
	return all, meaning
}
