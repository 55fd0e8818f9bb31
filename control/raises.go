package control

// Raises says whether an ask of this kind may raise heat or change the profile. Those need the
// lease of the run; the others are taken from any screen of the same person. What is not known is
// held to raise heat.
func (k AskKind) Raises() bool {
	switch k {
	case AskSilence, AskAcknowledge, AskHeatOff, AskStop, AskAnswer, AskNote:
		return false
	}
	return true
}
