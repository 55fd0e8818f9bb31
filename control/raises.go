package control

// Raises says whether an ask of this kind may raise heat, change the profile or shelve an alarm,
// which takes a warning from the eyes of everyone who looks. Those need the lease of the run; the
// others are taken from any screen of the same person, unshelving among them: it brings a warning
// back. What is not known is held to raise heat.
func (k AskKind) Raises() bool {
	switch k {
	case AskSilence, AskAcknowledge, AskHeatOff, AskStop, AskAnswer, AskNote, AskUnshelve:
		return false
	}
	return true
}
