package control

import (
	"fmt"
	"strings"
	"time"

	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// What a person is asked to look at twice before a run heats.
const (
	// OddPeak is the highest setpoint that is not asked about: blades are tempered below it, and
	// oil, wood and plastic that were left in the oven burn above it. The FMEA's figure; from
	// memory.
	OddPeak = temp.C(300)
	// OddRoom is how far a profile's limit stays below the oven's and the board's at least: with
	// less an over-temperature of this run is one of the oven. Our choice.
	OddRoom = temp.Delta(5)
)

// Odd says what of a run a person should look at twice before it heats, in one line each; nothing
// of an ordinary temper on a board whose proofs did not fail, and nothing where the person holds
// the heat. The limits that Check refuses are not its business.
func Odd(info Info) (why []string) {
	if info.Shop.NoHeater {
		return nil
	}
	p := &info.Profile
	peak, u := p.Peak(), p.Unit
	switch mixed := mixedUp(peak, u, info.Blade); {
	case mixed != "":
		why = append(why, mixed)
	case peak > OddPeak+1e-9:
		why = append(why, fmt.Sprintf("the peak, %s, is above %s", both(peak, u), both(OddPeak, u)))
	}
	// The board's stored limit is not below the oven's but for its rounding, so that a limit near
	// it is near the oven's. A limit that the program made is not asked about: its person gave only
	// the heat, well below it, and a question that always comes is answered unread.
	if oven := temp.C(info.Shop.LimitC); !p.LimitMade && p.Limit.Add(OddRoom+boardSlack) >= oven {
		why = append(why, fmt.Sprintf("the profile's limit, %s, is within %s of the oven's, %s",
			both(p.Limit, u), strings.TrimPrefix(OddRoom.Text(u, 0), "+"), both(oven, u)))
	}
	if odd := info.Shop.Proofs.Odd(); odd != "" {
		why = append(why, odd)
	}
	return why
}

// Odd says of a board that failed a proof what a person should know before it heats; "" of others.
func (p *Proofs) Odd() string {
	part, _ := p.failed()
	if part == "" {
		return ""
	}
	return fmt.Sprintf("the board's %s FAILED its last proof: it may not take the heat away; %s", part,
		proofCommand)
}

// mixedUp says that a peak is no ordinary temper in its own unit and would be one in the other;
// "" if not. The criterion is ours, the ranges are those of the steels: too hot is above the range
// of the blade's steel, or above that of all blades where it is not known; too cold is below
// everything that was measured, since a low temper of any steel is no slip of the pen.
func mixedUp(peak temp.C, u temp.Unit, b *BladeInfo) string {
	low, high := steel.TemperBand()
	n := peak.In(u)
	meant, other := temp.F(n), temp.Fahrenheit
	if u == temp.Fahrenheit {
		meant, other = temp.C(n), temp.Celsius
	}
	if meant < low || meant > high {
		return ""
	}
	of := "a blade"
	if s, ok := b.steel(); ok && s.Temper.Known() {
		of, high = s.Name, s.Temper.High
	}
	how := ""
	switch {
	case peak > high+1e-9:
		how = fmt.Sprintf("above what %s is tempered at (%s)", of, both(high, u))
	case peak < steel.Coldest-1e-9:
		how = fmt.Sprintf("below any temper that was measured (%s)", both(steel.Coldest, u))
	default:
		return ""
	}
	return fmt.Sprintf("the peak, %s, is %s; %s would be an ordinary temper: is the unit right?",
		both(peak, u), how, both(meant, other))
}

// steel finds the steel of a blade, or the one that it goes by.
func (b *BladeInfo) steel() (steel.Steel, bool) {
	if b == nil {
		return steel.Steel{}, false
	}
	name := b.Steel
	if b.Like != "" {
		name = b.Like
	}
	return steel.Find(name, nil)
}

// both writes a temperature in both units without decimals, that of u first.
func both(t temp.C, u temp.Unit) string {
	other := temp.Celsius + temp.Fahrenheit - u
	return t.Text(u, 0) + " (" + t.Text(other, 0) + ")"
}

// Ahead says in one line what a run is going to do: its peak, its time, the blade and the oven's
// limit. The time is that of the plan, which supposes an ordinary oven and somebody at each wait.
func Ahead(info Info) string {
	p, u := &info.Profile, info.Profile.Unit
	var all time.Duration
	for _, l := range profiles.Lengths(p.Steps) {
		all += l
	}
	blade := "no blade described"
	if b := info.Blade; b != nil {
		var of []string
		for _, t := range []string{b.Text, b.Steel} {
			if t != "" {
				of = append(of, t)
			}
		}
		if b.ThickMM > 0 {
			of = append(of, fmt.Sprintf("%g mm", b.ThickMM))
		}
		blade = strings.Join(of, ", ")
	}
	return fmt.Sprintf("%s: peak %s, about %s in all; %s; the oven's limit %s", p.Name,
		both(p.Peak(), u), profiles.SpanText(all.Round(time.Minute)), blade,
		both(temp.C(info.Shop.LimitC), u))
}
