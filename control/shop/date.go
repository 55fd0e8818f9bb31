package shop

import (
	"fmt"
	"time"
)

// Date is a day of the calendar. The zero Date is none.
type Date struct {
	Year  int // 2000 to 2199
	Month time.Month
	Day   int
}

// ParseDate reads a day written as 2026-11-25.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 2000 || t.Year() > 2199 {
		return Date{}, fmt.Errorf("%q is no day: write it as 2026-11-25", s)
	}
	return DateOf(t), nil
}

// DateOf gives the day of t in t's own time zone.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{Year: y, Month: m, Day: d}
}

// IsZero reports whether d is no day.
func (d Date) IsZero() bool { return d == Date{} }

// String writes the day as 2026-11-25, "" if it is none.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// Since gives how many days after o d is; below 0 if it is before.
func (d Date) Since(o Date) int {
	at := func(d Date) time.Time {
		return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC)
	}
	return int(at(d).Sub(at(o)) / (24 * time.Hour))
}
