package prompts

// What is said around the sounds while they are learned, on the first night.
var lessonEntries = []Entry{
	{Code: "lesson", Action: "tell", Class: Chat, NoRepeat: true,
		Variants: []string{"start", "far", "coming", "inside", "stop", "lost", "trouble", "try", "well", "later"}},
}
