package core

// Decide says what a command comes to in a world: events to record, or one
// refusal. It changes nothing it is given; the same world and command always
// come to the same outcome.
func Decide(w World, c Command) Outcome {
	return Outcome{Refusal: refuse("unknown-command", "kind", c.Body.Kind())}
}
