package tune

// Point is a reading at a time: s from the disturbance, and °C from the setpoint.
type Point struct{ T, Off float64 }

// Answer gives how the gains bring the reading back after a door stood open for 20 s, as
// Predict plays it: what a loop that holds is there for. It ends with the span in s. The error is
// Predict's.
func Answer(m Model, g Gains, s Setup, sc Scene, span float64) ([]Point, error) {
	st, err := newStage(m, g, s, sc)
	if err != nil {
		return nil, err
	}
	p := st.shut(sc.Set)
	p.span = min(longest, span)
	var out []Point
	p.tell = func(t, y float64) { out = append(out, Point{t, y - sc.Set}) }
	_, err = p.run()
	return out, err
}
