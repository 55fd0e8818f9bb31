package profiles

import (
	"fmt"

	"strawline/probe/temp"
)

// Words says what the step does in unit u: "soak 2h at 400 °F ± 10 °F".
func (s Step) Words(u temp.Unit) string {
	switch s.Kind {
	case Ramp:
		if s.Rate > 0 {
			return fmt.Sprintf("ramp to %s at %s/h", number(s.To.In(u), u),
				number(temp.Delta(s.Rate*3600).In(u), u))
		}
		return "ramp to " + number(s.To.In(u), u)
	case Soak:
		return fmt.Sprintf("soak %s at %s ± %s", SpanText(s.For), number(s.To.In(u), u),
			number(s.Band.In(u), u))
	case Cool:
		return "cool to " + number(s.To.In(u), u)
	case Wait:
		if s.Heat {
			return fmt.Sprintf("wait: %s (heat on, at most %s)", s.Say, SpanText(s.Most))
		}
		return fmt.Sprintf("wait: %s (heat off)", s.Say)
	}
	return s.Kind.String()
}
