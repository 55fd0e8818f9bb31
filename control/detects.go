package control

import (
	"strawline/control/alarm"
	"strawline/control/guard"
)

// Detected is one fault that an alarm tells of.
type Detected struct {
	What   string
	Within string // latest time of detection on an oven whose model is known
	Only   string // what only hardware can do about it; "" nothing
}

// Detects gives the faults that the alarm of this code tells of, as guard.Rows has them; nil for
// an alarm of something else.
func Detects(code string) (ds []Detected) {
	for _, r := range guard.Rows() {
		if alarmOf(r) == code {
			ds = append(ds, Detected{What: r.What, Within: r.Within, Only: r.Only})
		}
	}
	return ds
}

// alarmOf gives the code of the alarm that a fault raises; "" where it is only told.
func alarmOf(r guard.Row) string {
	switch r.Finding {
	case guard.HeatAtZero:
		return alarm.HeatAtZero
	case guard.NoHeat:
		return alarm.NoHeat
	case guard.WeakHeat:
		return alarm.WeakHeat
	case guard.LeadShort, guard.FellOut:
		return alarm.ProbeOut
	case guard.BoardWarm:
		return alarm.BoardWarm
	}
	switch {
	case r.What == "above the limit":
		return alarm.OverTemperature
	case r.What == "board silent or hung":
		return alarm.BoardSilent
	case r.Kind == guard.Doubt && r.By == "probe/belief":
		return alarm.NoReading
	case r.Kind == guard.Message:
		return ""
	}
	return alarm.Tripped // a doubt that lasts is a trip as well
}
