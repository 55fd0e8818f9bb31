package profiles

import (
	"embed"
	"fmt"
	"math"
	"strings"
	"time"

	"strawline/probe/temp"
)

// builtin is read only.
//
//go:embed builtin/*.toml
var builtin embed.FS

// Names lists the built-in profiles in the order in which they are shown.
func Names() []string { return []string{"small-knife", "large-knife", "kitchen"} }

// Source gives the TOML text of a built-in profile; a *Problem if there is none of that name.
func Source(name string) ([]byte, error) {
	if _, ok := indexOf(Names(), name); !ok {
		text := "there is no such profile; built in are " + list(Names())
		if near := Suggest(name); near != "" {
			text = fmt.Sprintf("there is no such profile: did you mean %s?", near)
		}
		return nil, &Problem{File: name, Text: text}
	}
	return builtin.ReadFile("builtin/" + name + ".toml")
}

// Builtin gives a fresh copy of a built-in profile; a *Problem if there is none of that name.
func Builtin(name string) (*Profile, error) {
	data, err := Source(name)
	if err != nil {
		return nil, err
	}
	return Parse(name, data)
}

// Suggest gives the built-in name, or one of the further names, that name was probably meant
// to be; "" if none is near.
func Suggest(name string, further ...string) string {
	return closest(name, append(Names(), further...))
}

// room above a temper's target to its limit: an opened door makes a plain loop rebound by up
// to 20 °C on the project's reference oven, and that must not trip.
const temperRoom = temp.Delta(25)

// Temper makes the profile that a person asks for in one line: go to a temperature, blade in
// with the heat on, soak, blade out and cool to the hand, so many times (1 to MaxRepeats). Its
// limit is 25 °C above the target, or 15 °C above a wide band, up to the next whole degree of
// the unit, and is marked as made. An error is a *Problem.
func Temper(at temp.C, forSpan time.Duration, times int, band temp.Delta,
	unit temp.Unit) (*Profile, error) {
	p := &Profile{Name: "temper", Unit: unit, LimitMade: true,
		Note: "Made on the spot from the command line."}
	if times < 1 || times > MaxRepeats {
		return nil, &Problem{File: p.Name, Key: "times",
			Text: fmt.Sprintf("%d is outside 1 to %d", times, MaxRepeats)}
	}
	if !inside(at) { // said here, so that the message names what the person gave
		return nil, &Problem{File: p.Name, Key: "at", Text: fmt.Sprintf("%s is outside %s to %s",
			p.show(at), p.show(Lowest), p.show(Highest))}
	}
	p.Title = fmt.Sprintf("Temper at %s for %s, %d times", p.show(at), SpanText(forSpan), times)
	if times == 1 {
		p.Title = fmt.Sprintf("Temper at %s for %s", p.show(at), SpanText(forSpan))
	}
	limit := at.Add(max(temperRoom, band+15))
	if unit == temp.Fahrenheit {
		p.Limit = temp.F(math.Ceil(limit.F() - 1e-9))
	} else {
		p.Limit = temp.C(math.Ceil(float64(limit) - 1e-9))
	}
	for i := range times {
		cycle := i + 1
		if times == 1 {
			cycle = 0
		}
		p.Steps = append(p.Steps,
			Step{Kind: Ramp, To: at, Band: band, Cycle: cycle},
			Step{Kind: Wait, Say: "blade in", Heat: true, Most: MaxHeatWait, Load: LoadIn,
				Cycle: cycle},
			Step{Kind: Soak, To: at, For: forSpan, Band: band, Cycle: cycle},
			Step{Kind: Wait, Say: "blade out, cooled to the hand", Load: LoadOut, Cycle: cycle})
	}
	p.complete()
	if err := p.Check(); err != nil {
		return nil, err
	}
	return p, nil
}

// closest gives the word that s was probably meant to be: within two slips of the pen, but
// never more than a third of it; or the only one that begins with s.
func closest(s string, words []string) string {
	s = strings.ToLower(s)
	best, slips := "", min(2, len(s)/3)+1
	for _, w := range words {
		if d := distance(s, w); d < slips {
			best, slips = w, d
		}
	}
	if best != "" || len(s) < 3 {
		return best
	}
	for _, w := range words {
		if strings.HasPrefix(w, s) {
			if best != "" {
				return ""
			}
			best = w
		}
	}
	return best
}

// distance counts the letters to put in, leave out, change or swap with their neighbour.
func distance(a, b string) int {
	if len(a) > 64 || len(b) > 64 {
		return 64
	}
	var rows [3][66]int
	for j := range len(b) + 1 {
		rows[1][j] = j
	}
	for i := 1; i <= len(a); i++ {
		before, last, now := &rows[(i+2)%3], &rows[i%3], &rows[(i+1)%3]
		now[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
	}
	return rows[(len(a)+1)%3][len(b)]
}
