package control

// AskKind is what a person can ask of a run.
type AskKind string

// The asks. Those marked "heat" may raise heat or change the profile.
const (
	AskSilence     AskKind = "silence"     // stop the noise of the alarms that stand
	AskAcknowledge AskKind = "acknowledge" // I have seen them
	AskReset       AskKind = "reset"       // clear latches whose cause is gone, the board's too
	AskGoOn        AskKind = "go on"       // heat: leave a trip, after acknowledge and reset
	AskHeatOff     AskKind = "heat off"    // heat away at once; a trip like any other
	AskConfirm     AskKind = "confirm"     // heat: the wait is answered
	AskStay        AskKind = "stay"        // heat: stay here for Seconds, 0 to end it
	AskMore        AskKind = "more"        // heat: Seconds more on this soak
	AskSkip        AskKind = "skip"        // heat: to the next step
	AskAgain       AskKind = "again"       // heat: this step from its start, none of its soak credited
	AskSet         AskKind = "set"         // heat: this step's setpoint becomes TempC
	AskUndo        AskKind = "undo"        // heat: take back the last stay, more, skip, set or gains
	AskStop        AskKind = "stop"        // end the run, heat off
	AskAnswer      AskKind = "answer"      // I know that the run has ended
	AskNote        AskKind = "note"        // Text goes into the run file
	AskGains       AskKind = "gains"       // heat: Gains from now on
	AskDuty        AskKind = "duty"        // heat: DutyPM by hand for Seconds, at most 10 min
	AskShelve      AskKind = "shelve"      // hide the alarm Code for Seconds, for the reason Text
	AskUnshelve    AskKind = "unshelve"    // bring the alarm Code back
)

// Ask is one request of a person. The engine answers each with an event.
type Ask struct {
	Kind    AskKind `json:"ask"`
	By      string  `json:"by,omitempty"` // "screen", "simulated person"
	Seconds float64 `json:"span_s,omitempty"`
	TempC   float64 `json:"temp_c,omitempty"`
	Text    string  `json:"text,omitempty"`
	Code    string  `json:"code,omitempty"` // of an alarm
	Gains   *Gains  `json:"gains,omitempty"`
	DutyPM  int     `json:"duty_pm,omitempty"`
}
