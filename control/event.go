package control

import "time"

// EventKind is what happened.
type EventKind string

// The kinds of event in a run file.
const (
	EvStart    EventKind = "start"    // the run began
	EvStep     EventKind = "step"     // Step began
	EvSoak     EventKind = "soak"     // the soak clock's Word changed: counting, paused, over
	EvSoaked   EventKind = "soaked"   // the soak is done; SpanS credited
	EvWait     EventKind = "wait"     // a person is needed; Text says for what
	EvSet      EventKind = "set"      // no heater: the person sets the oven to TempC, or off
	EvDoubt    EventKind = "doubt"    // heat away; Text says why
	EvClear    EventKind = "clear"    // the doubt is over, heat may come back
	EvTrip     EventKind = "trip"     // latched; Text says why, Word is Unreached or empty
	EvReset    EventKind = "reset"    // a person reset the trip's latches
	EvGoOn     EventKind = "go on"    // a person let the run go on
	EvAlarm    EventKind = "alarm"    // Code's state became Word (a letter); G: for SpanS, Text why
	EvAsk      EventKind = "ask"      // Ask was taken (Word "done") or refused (Text says why)
	EvLink     EventKind = "link"     // the state became Word; Text: what is there instead
	EvBoard    EventKind = "board"    // the board started or was asked; Text
	EvLatch    EventKind = "latch"    // the board's latches became Word
	EvProbe    EventKind = "probe"    // Channel's reading became Word: "good" or a fault
	EvGap      EventKind = "gap"      // a gap of SpanS without a good reading ended
	EvEdit     EventKind = "edit"     // a person changed Step: SpanS, TempC as they now are
	EvReminder EventKind = "reminder" // the run has ended and nobody has answered
	EvNote     EventKind = "note"
	EvLaw      EventKind = "law"    // what the law is doing became Word: "landing", "holding"
	EvGains    EventKind = "gains"  // Gains from now on, before it Was; Word "undo" or empty
	EvDuty     EventKind = "duty"   // a person set DutyPM for SpanS; absent: the law has it; Text
	EvTest     EventKind = "test"   // the tuning test is Word; Text says more
	EvUnlike   EventKind = "unlike" // the oven does not answer as its model does: Text; none: it does
	EvDose     EventKind = "dose"   // Dose so far; Word DoseSoak or DoseEnd, which has the verdict
	EvOven     EventKind = "oven"   // what the guard sees of the oven and nobody must act on; Text
	EvEnd      EventKind = "end"    // Word "done", "stopped", "tripped", "late"; TempC as read, Load
	EvClosed   EventKind = "closed" // answered
	EvLost     EventKind = "lost"   // records that could not be written; Text
)

// Unreached is the word of a trip when no command could reach the board: then nobody can say
// that off was commanded. The board's dead man takes the heat away.
const Unreached = "unreached"

// Event is one thing that happened. Fields that do not apply are absent.
type Event struct {
	T      time.Duration `json:"-"`
	Kind   EventKind     `json:"event"`
	Step   *int          `json:"step,omitempty"`
	Chan   *int          `json:"channel,omitempty"`
	Code   string        `json:"code,omitempty"`
	Word   string        `json:"word,omitempty"`
	Text   string        `json:"text,omitempty"`
	From   string        `json:"from,omitempty"` // hidden state that an alarm came from; Text why
	SpanS  *float64      `json:"span_s,omitempty"`
	TempC  *float64      `json:"temp_c,omitempty"`
	Ask    *Ask          `json:"asked,omitempty"`
	Gains  *Gains        `json:"gains,omitempty"`
	Was    *Gains        `json:"was,omitempty"` // the gains before
	DutyPM *int          `json:"duty_pm,omitempty"`
	Dose   *Dose         `json:"dose,omitempty"`
	Load   string        `json:"load,omitempty"` // LoadIn, or empty
}
