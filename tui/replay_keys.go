package tui

import "time"

// PlayState is where a replay stands.
type PlayState struct {
	Playing bool
	Speed   float64       // times as fast as it was, 1 to 2000
	At      time.Duration // on the run's clock
	Length  time.Duration // of the run
	Wall    time.Time     // At by the file's wall clock
}

// Controls steer a replay. None of them blocks.
type Controls interface {
	State() PlayState
	Toggle()            // play or pause
	Faster()            // the next speed
	Slower()            // the speed before
	Jump(time.Duration) // by so much, back if below 0
	NextEvent()         // to the next event
	ToStart()
	ToEnd()
}

// replayKey does what a key asks of a replay.
func replayKey(c Controls, name string) {
	switch name {
	case " ", "space":
		c.Toggle()
	case "+", "=":
		c.Faster()
	case "-", "_":
		c.Slower()
	case "right":
		c.Jump(time.Minute)
	case "left":
		c.Jump(-time.Minute)
	case "up", "pgdown":
		c.Jump(10 * time.Minute)
	case "down", "pgup":
		c.Jump(-10 * time.Minute)
	case "n":
		c.NextEvent()
	case "0", "home":
		c.ToStart()
	case "9", "end":
		c.ToEnd()
	}
}
