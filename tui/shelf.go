package tui

import (
	"fmt"
	"strings"

	"strawline/control"
)

// ShelfNames counts what is hidden and names it: "1 shelved: OFF PLAN"; "" if nothing is.
func ShelfNames(s control.Snapshot) string {
	return shelf(s, func(h control.Hidden) string { return h.Word })
}

// ShelfWords says of each alarm that is hidden how long it still is, and why; "" if none is:
// "1 shelved: OFF PLAN, 12 min left, the door is open".
func ShelfWords(s control.Snapshot) string {
	return shelf(s, func(h control.Hidden) string {
		text := h.Word
		if h.Until > 0 {
			text += ", " + spoken(h.Until-s.T) + " left"
		}
		if h.Reason != "" {
			text += ", " + h.Reason
		}
		return text
	})
}

// shelf lists the hidden alarms, each kind of hiding by itself.
func shelf(s control.Snapshot, words func(control.Hidden) string) string {
	var kinds []string
	for _, state := range []string{"G", "H", "I"} {
		var list []string
		for _, h := range s.Hidden {
			if h.State == state {
				list = append(list, words(h))
			}
		}
		if len(list) > 0 {
			sep := ", "
			if strings.Contains(strings.Join(list, ""), ", ") {
				sep = "; "
			}
			kinds = append(kinds, fmt.Sprintf("%d %s: %s", len(list), alarmState(state),
				strings.Join(list, sep)))
		}
	}
	return strings.Join(kinds, "; ")
}

// shelfRow is the line of a screen that tells of hidden alarms.
func shelfRow(sh *sheet, y int, s control.Snapshot, l Look) {
	sh.fit(1, y, l.W-1, strong, ShelfWords(s))
}

// hiddenAt gives what a Snapshot says of a hidden alarm; nil if it is not hidden.
func hiddenAt(s control.Snapshot, code string) *control.Hidden {
	for i := range s.Hidden {
		if s.Hidden[i].Code == code {
			return &s.Hidden[i]
		}
	}
	return nil
}
