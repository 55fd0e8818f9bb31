package belief

import (
	"math"

	"strawline/probe/temp"
)

// Rest is what a channel reads while nothing heats it.
type Rest struct {
	Channel int    // as the caller counts
	Hot     temp.C // mean of the last minute, °C
	Cold    temp.C // its cold junction, °C; NaN if the board does not say it
}

// Limits for a channel at rest, our choices: never heated since its State began, never more
// than 10 °C away from where it began, and no more than 0.5 °C between the means of the last
// minute's first and last ten seconds. An oven that cools from 72 °C moves by more, unless it
// takes many hours. With noise of ±0.5 °C the difference has a standard deviation of 0.065 °C.
const (
	restMove            = 0.5
	restFrom temp.Delta = 10
)

// AtRest gives what the channel reads at rest, at the start of a State; false once it has been
// heated or has left where it began, while it moves, and until it has been believed for a minute.
func (st State) AtRest(channel int) (Rest, bool) {
	t := &st.trend
	if !st.good || t.n < markCount || st.heat.left {
		return Rest{}, false
	}
	late, early := t.last(0)+t.last(1), t.last(markCount-1)+t.last(markCount-2)
	if math.Abs(float64(late-early))/2 > restMove {
		return Rest{}, false
	}
	var sum float64
	for _, m := range t.marks {
		sum += float64(m)
	}
	cold := temp.C(math.NaN())
	if st.still.hasCold {
		cold = st.still.cold
	}
	return Rest{Channel: channel, Hot: temp.C(sum / markCount), Cold: cold}, true
}

// Doubtful is what a Question asks about.
type Doubtful string

// The questions. All are weak: an oven may truly stand at 72 °C.
const (
	LooksF   Doubtful = "looks like °F"                    // 72 where the others say 22
	LooksC   Doubtful = "looks like °C taken for °F"       // -5.6 where the others say 22
	Apart    Doubtful = "differs from the others"          // by more than 5 °C
	ApartOwn Doubtful = "differs from its cold junction"   // by more than 10 °C, if it is alone
	BothF    Doubtful = "looks like °F, its junctions too" // both near 72, and agreeing
)

// Question is a doubt about one channel, to be put to a person; it refuses nothing.
type Question struct {
	Channel int
	Doubt   Doubtful
	Hot     temp.C // what it reads, °C
	Others  temp.C // what it was held against, °C
}

// Limits of Ask, our choices. A cold junction in a warm box stands up to 10 °C above the room,
// so it is a weaker witness than another channel. Standard type K tolerance at room temperature
// is 2.2 °C (ASTM E230): two honest channels differ by less than 5 °C. Expected false questions:
// none from noise, which a minute's mean brings below 0.1 °C; one wherever an oven honestly
// stands still at what looks wrong, which is why it only asks.
const (
	apartFrom    temp.Delta = 5
	apartOwnFrom temp.Delta = 10
	sameUnit     temp.Delta = 4 // about what the others would be in the other unit

	// Room temperatures that need no explanation, °C; in degrees Fahrenheit 41 to 113.
	roomFrom, roomTo temp.C = 5, 45
)

// Ask compares channels that are all at rest at room temperature and appends to dst what a
// person should be asked, one question a channel at most. Another channel is the witness, best
// one that agrees with its own cold junction; the own cold junction where there is none.
func Ask(dst []Question, rests []Rest) []Question {
	for i, r := range rests {
		if d, other := doubt(rests, i); d != "" {
			dst = append(dst, Question{Channel: r.Channel, Doubt: d, Hot: r.Hot, Others: other})
		}
	}
	return dst
}

func doubt(rests []Rest, i int) (Doubtful, temp.C) {
	r := rests[i]
	if r.agrees() && r.Cold > roomTo && r.Hot > roomTo {
		return BothF, temp.F(float64(r.Hot))
	}
	other, sound, has := witness(rests, i)
	if !has {
		return alone(r)
	}
	switch {
	case apart(r.Hot, other) <= apartFrom, !sound && (r.agrees() || isRoom(r.Hot) && !isRoom(other)):
		return "", other
	case r.Hot > roomTo && apart(temp.F(float64(r.Hot)), other) <= sameUnit:
		return LooksF, other
	case r.Hot < roomFrom && apart(temp.C(r.Hot.F()), other) <= 2*sameUnit:
		return LooksC, other
	}
	return Apart, other
}

// alone holds a channel against its own cold junction, which stands up to 10 °C above the room.
func alone(r Rest) (Doubtful, temp.C) {
	inC, fromF := r.Cold.Sub(temp.F(float64(r.Hot))), r.Cold.Sub(temp.C(r.Hot.F()))
	switch {
	case math.IsNaN(float64(r.Cold)) || r.agrees():
		return "", 0
	case r.Hot > roomTo && inC >= -sameUnit && inC <= apartOwnFrom:
		return LooksF, r.Cold
	case r.Hot < roomFrom && fromF >= -sameUnit && fromF <= apartOwnFrom:
		return LooksC, r.Cold
	}
	return ApartOwn, r.Cold
}

// agrees says that the channel reads near its own cold junction.
func (r Rest) agrees() bool { return apart(r.Hot, r.Cold) <= apartOwnFrom } // not for NaN

func isRoom(c temp.C) bool { return c >= roomFrom && c <= roomTo }

// witness gives the reading of another channel: one that is sound, which is to agree with its
// own cold junction at room temperature, before one that is not, and the nearest of those.
func witness(rests []Rest, i int) (best temp.C, sound, has bool) {
	for j, o := range rests {
		if j == i {
			continue
		}
		s := o.agrees() && isRoom(o.Hot)
		nearer := apart(rests[i].Hot, o.Hot) < apart(rests[i].Hot, best)
		if !has || s && !sound || s == sound && nearer {
			best, sound, has = o.Hot, s, true
		}
	}
	return best, sound, has
}

func apart(a, b temp.C) temp.Delta { return temp.Delta(math.Abs(float64(a - b))) }
