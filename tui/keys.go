package tui

import (
	"fmt"
	"slices"
	"strings"

	"strawline/control"
)

// binding is one key. None needs shift, so that they can be pressed in gloves.
type binding struct {
	key  string // as bubbletea names it
	show string // as the screen names it
	word string // short
	long string // for the help page
}

// liveKeys are the keys of a run, in the order of the help page.
var liveKeys = []binding{
	{"h", "h", "heat off", "heat off at once, without a question; a trip like any other"},
	{"s", "s", "silence", "silence the alarms that stand, at once, without a question"},
	{"a", "a", "acknowledge", "I have seen the alarms"},
	{"r", "r", "reset", "clear latches whose cause is gone, the board's too"},
	{"g", "g", "go on", "leave a trip: heat may come back"},
	{"c", "c", "confirm", "a wait is answered; or: I know that the run has ended"},
	{"t", "t", "stay a time", "stay here for a time that you type; again to end it"},
	{"m", "m", "10 min more", "ten minutes more on this soak"},
	{"k", "k", "skip", "skip to the next step"},
	{"w", "w", "again", "this step from its start, none of its soak counted"},
	{"e", "e", "setpoint", "another setpoint, typed with its unit, below the limit"},
	{"u", "u", "undo", "take back the last stay, more, skip, setpoint or gains"},
	{"l", "l", "loop gains", "the gains, and what the model makes of others"},
	{"d", "d", "duty by hand", "a duty for at most 10 minutes; again to give it back"},
	{"x", "x", "stop", "end the run, heat off"},
	{"n", "n", "note", "write a line into the run file"},
	{"i", "i", "alarms", "all alarms, each explained; shelve one from there"},
	{"f", "f", "°F or °C", "read in the other unit"},
	{"b", "b", "big", "digits that fill the screen, and back"},
	{"/", "/", "help", "these keys; also ? and F1"},
	{"q", "q", "leave", "leave the screen; also ctrl-c"},
}

// replayKeys are the keys of a replay.
var replayKeys = []binding{
	{" ", "space", "play, pause", "play or pause"},
	{"+", "+", "faster", "faster, up to 2000 times; also ="},
	{"-", "-", "slower", "slower, down to 1 times"},
	{"right", "→", "1 min on", "a minute on"},
	{"left", "←", "1 min back", "a minute back"},
	{"up", "↑", "10 min on", "ten minutes on"},
	{"down", "↓", "10 min back", "ten minutes back"},
	{"n", "n", "next event", "to the next event"},
	{"0", "0", "start", "to the start; also the home key"},
	{"9", "9", "end", "to the end; also the end key"},
	{"l", "l", "loop gains", "the gains of that time"},
	{"i", "i", "alarms", "all alarms of that time, each explained"},
	{"f", "f", "°F or °C", "read in the other unit"},
	{"b", "b", "big", "digits that fill the screen, and back"},
	{"/", "/", "help", "these keys; also ? and F1"},
	{"q", "q", "leave", "leave the replay; also ctrl-c"},
}

func bindings(l Look) []binding {
	if l.Replay != nil {
		return replayKeys
	}
	if l.Tuned == nil {
		return liveKeys
	}
	tuned := slices.Clone(liveKeys)
	i := slices.IndexFunc(tuned, func(b binding) bool { return b.key == "t" })
	tuned[i].word, tuned[i].long = "the gains", "what the tuning test came to; again for every rule"
	return tuned
}

// keysNow puts the keys that the moment asks for first: heat off, silence and help while a run
// goes on, the way out while it is tripped.
func keysNow(s control.Snapshot, l Look) []string {
	if l.Replay != nil {
		return []string{" ", "n", "+", "-", "right", "left", "up", "down", "0", "9", "/", "b", "l",
			"i", "f", "q"}
	}
	over := s.Phase == control.PhaseEnded || s.Phase == control.PhaseClosed
	order := ""
	add := func(keys string, sense bool) {
		for _, k := range keys {
			if sense && !strings.ContainsRune(order, k) {
				order += string(k)
			}
		}
	}
	_, noAck := askAcknowledge(s)
	_, noMore := askMore(s)
	add("t", l.Tuned != nil)
	add("c", waiting(s) || s.Phase == control.PhaseEnded)
	closed, off := s.Phase == control.PhaseClosed, s.Phase == control.PhaseTripped
	add("q", closed)
	add("h", !over && !off && !(s.Info != nil && s.Info.Shop.NoHeater))
	add("s", !off && !closed && (!over || len(s.Alarms) > 0))
	add("a", noAck == nil && !closed)
	add("rgs", off) // the way out of a trip, in its order; the heat is off
	add("i", !off && len(s.Alarms)+len(s.Hidden) > 0)
	add("/b", true)
	add("xi", off)
	add("t", canStay(s) == nil && !over)
	add("m", noMore == nil)
	add("k", running(s) == nil)
	add("e", canSet(s) == nil)
	add("u", s.Undo != "")
	add("l", !over && !(s.Info != nil && s.Info.Shop.NoHeater))
	add("d", running(s) == nil && s.HasSet && !(s.Info != nil && s.Info.Shop.NoHeater))
	add("x", !over)
	add("n", !closed)
	add("ifq", true)
	return strings.Split(order, "")
}

// keys is the bottom line: as many keys as fit, those that matter now first.
func keys(sh *sheet, y int, s control.Snapshot, l Look) {
	if typingKeys(sh, y, l) {
		return
	}
	all := bindings(l)
	x, helped, full := 0, false, false
	put := func(b binding) bool {
		n := len([]rune(b.show)) + 1 + len([]rune(b.word))
		room := l.W - x
		if !helped && b.key != "/" {
			room -= len("  / help")
		}
		if n > room {
			return false
		}
		sh.text(sh.text(x, y, strong, b.show)+1, y, faint, b.word)
		x += n + 2
		helped = helped || b.key == "/"
		return true
	}
	for _, key := range keysNow(s, l) {
		i := slices.IndexFunc(all, func(b binding) bool { return b.key == key })
		if i >= 0 && (!full || key == "/") && !put(all[i]) {
			full = true // what comes behind matters less: leave it out as well
		}
	}
}

// typingKeys is the bottom line while something is typed, when every letter is one of the text, h
// too; false if nothing is.
func typingKeys(sh *sheet, y int, l Look) bool {
	if !l.Asking || !strings.HasSuffix(l.Say, typedEnd) {
		return false
	}
	x := sh.text(sh.text(0, y, strong, "enter")+1, y, faint, "done") + 2
	x = sh.text(sh.text(x, y, strong, "esc")+1, y, faint, "back, then") + 1
	sh.fit(sh.text(x, y, strong, "h")+1, y, l.W-x-2, faint, "heat off")
	return true
}

// leastKey is how wide a column of the help page must be for the longest word of a key.
const leastKey = 20

// help lists every key, in as many columns as it takes.
func help(sh *sheet, s control.Snapshot, l Look) {
	head(sh, 0, s, l)
	all := bindings(l)
	rows := l.H - 2
	full := l.W/((len(all)+rows-1)/rows) < leastKey // columns too narrow: the last line too
	if full {
		rows++
	}
	long := l.W >= 80 && rows > len(all)
	cols := (len(all) + rows - 1) / rows
	if long {
		cols = 1
	}
	w := l.W / max(1, cols)
	for i, b := range all {
		x, y := i/rows*w, 1+i%rows
		if long {
			y++
		}
		sh.text(x+1, y, strong, b.show)
		text := b.word
		if long {
			text = fmt.Sprintf("%-12s  %s", b.word, b.long)
		}
		sh.fit(x+7, y, w-7, plain, text)
	}
	foot := "each but heat off and silence asks first; / goes back"
	if l.Replay != nil {
		foot = "/ goes back"
	}
	if len(foot) > l.W {
		foot = "/ back"
	}
	if l.Say != "" {
		say(sh, l.H-1, l)
		return
	}
	if !full {
		sh.fit(0, l.H-1, l.W, faint, strings.TrimSpace(foot))
	}
}
