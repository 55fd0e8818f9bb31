package belief

import "strawline/probe"

// What a Verdict can warn of while the channel is believed.
const (
	WarnCold    = "cold junction warm"
	WarnWarming = "cold junction warming fast"
)

// WhyCold: the cold junction is too warm for its channel to be believed.
const WhyCold = "cold junction too warm"

// Limits of the cold junction, °C, our choices by the house's list of faults: above 45 °C
// the board stands too near the oven, above 60 °C the difference between chip and connector
// may be degrees. Warming by 3 °C in a minute parts the two as well; a board in its box warms
// by 6 °C in an hour. The deadband is 2 °C, and three readings in a row decide. Expected false
// alarms: none from noise, since three readings in a row would each have to be off by as much as
// the board is from 45 °C; none in 500 simulated clean hours.
const (
	coldWarn    = 45.0
	coldRefuse  = 60.0
	coldBack    = 2.0
	coldTimes   = 3
	coldMinute  = 3.0 // °C in a minute
	coldFastOff = 1.5
)

// junction follows the cold junction of one channel.
type junction struct {
	warm, hot, fast bool
	warmer, hotter  int // readings in a row that say so
	trend           trend
}

func (j *junction) follow(r probe.Reading, stale bool) {
	c, ok := coldOf(r)
	if !ok {
		if r.Good() {
			*j = junction{}
		}
		return
	}
	if stale {
		j.trend = trend{}
		j.fast = false
	}
	v := float64(c)
	j.warmer, j.warm = above(v, coldWarn, j.warmer, j.warm)
	j.hotter, j.hot = above(v, coldRefuse, j.hotter, j.hot)
	if j.trend.add(r.At, c) && j.trend.n == markCount {
		rise := float64(j.trend.last(0)-j.trend.last(markCount-1)) * 60 /
			((markCount - 1) * j.trend.width.Seconds())
		j.fast = rise > coldMinute || j.fast && rise > coldFastOff
	}
}

// above counts the readings in a row above a limit, with a deadband downwards.
func above(v, limit float64, count int, is bool) (int, bool) {
	if v > limit {
		count = min(count+1, coldTimes)
	} else {
		count = 0
	}
	return count, count == coldTimes || is && v > limit-coldBack
}

func (j *junction) warn() string {
	switch {
	case j.warm:
		return WarnCold
	case j.fast:
		return WarnWarming
	}
	return ""
}
