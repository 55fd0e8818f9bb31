package tui

import (
	"errors"
	"io"
	"strings"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"strawline/control"
	"strawline/probe/temp"
	"strawline/tui/chart"
)

// field is what a typed line is for.
type field uint8

const (
	noField field = iota
	stayField
	setField
	noteField
	dutyField
	shelfField
)

// typedEnd stands behind what is being typed.
const typedEnd = "▌"

var fieldWords = [...]string{"", "stay here for how long (10m, 1h30m)?",
	"setpoint with its unit (400f, 204c)?", "note:", "duty by hand and for how long (20% 5m)?",
	"how long and why (10m door open)?"}

// newsMsg is a new Snapshot; past is the whole past when it was looked at again, else nil.
type newsMsg struct {
	s    control.Snapshot
	past []control.Past
}

// overMsg says that the source has no more, and why.
type overMsg struct{ err error }

type tickMsg struct{}

// tunedMsg is what a tuning test came to, or why that cannot be said.
type tunedMsg struct {
	t   Tuned
	err error
}

const (
	tickEvery = 500 * time.Millisecond
	quietFrom = 3 * time.Second // without news for so long the digits become dashes
	sayFor    = 8 * time.Second
)

// Model is the state of one screen. Its Update takes messages of Run only, and hands what a
// person asks to the source.
type Model struct {
	o     Options
	ask   func(control.Ask)
	write func(string) tea.Cmd // hands escape sequences to the terminal
	call  caller
	s     control.Snapshot
	tr    trail
	look  Look
	cache *LineCache
	loop  Loop

	q      *question
	typing field
	typed  string
	said   string
	saidAt time.Time
	newsAt time.Time
	over   bool // the source has no more
	asked  bool // what a tuning test came to
}

// newModel makes a screen that hands asks to ask, and what it says beside its picture to write.
func newModel(o Options, ink Ink, ask func(control.Ask), write func(string) tea.Cmd) *Model {
	if o.Replay != nil { // nobody is called for what has been
		o.Call = Call{}
	}
	return &Model{o: o, ask: ask, write: write, call: caller{how: o.Call}, cache: new(LineCache),
		newsAt: o.Now(), said: o.First, saidAt: o.Now(),
		look: Look{W: 80, H: 24, Unit: o.Unit, Ink: ink, Transport: o.Transport}}
}

// Init starts the tick that notices a run that says nothing.
func (m *Model) Init() tea.Cmd { return tick() }

func tick() tea.Cmd {
	return tea.Tick(tickEvery, func(time.Time) tea.Msg { return tickMsg{} })
}

// Update takes one message.
func (m *Model) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		m.look.W, m.look.H = msg.Width, msg.Height
	case newsMsg:
		m.news(msg)
		return m, tea.Batch(m.calls(), m.verdict())
	case tunedMsg:
		if msg.err != nil {
			m.tell("no gains: " + msg.err.Error())
			break
		}
		m.look.Tuned, m.look.Page, m.look.Scroll = &msg.t, Verdict, 0
	case overMsg:
		m.over = true
		if !errors.Is(msg.err, io.EOF) {
			m.tell("no more from the run: " + msg.err.Error())
		}
	case tickMsg:
		if m.said != "" && m.o.Now().Sub(m.saidAt) > sayFor {
			m.said = ""
		}
		return m, tea.Batch(tick(), m.calls())
	case tea.KeyMsg:
		return m, m.key(msg)
	}
	return m, nil
}

func (m *Model) news(msg newsMsg) {
	if msg.s.Refusals > m.s.Refusals {
		m.tell("refused: " + msg.s.Refused)
	}
	m.s, m.newsAt = msg.s, m.o.Now()
	if msg.past != nil {
		m.tr = append(m.tr[:0], msg.past...)
	}
	m.tr = m.tr.add(msg.s)
	if m.look.Page == LoopGains && m.loop.Was.gains != m.s.Gains {
		if m.loop.Next == m.loop.Was.gains {
			m.loop.Next = m.s.Gains
		}
		m.loop.work(m.s)
	}
	if m.q != nil && m.q.moot != "" && m.q.moot != basis(m.s) {
		m.q = nil
		m.tell("the run moved on before the answer: nothing was asked")
	}
}

// quiet is how long a live run has said nothing, 0 while it speaks or has ended.
func (m *Model) quiet() time.Duration {
	if m.o.Replay != nil || m.s.Info == nil || m.s.Phase == control.PhaseClosed {
		return 0
	}
	if m.over && m.s.Phase == control.PhaseEnded {
		return 0
	}
	if d := m.o.Now().Sub(m.newsAt); d >= quietFrom {
		return d
	}
	return 0
}

// View draws the screen.
func (m *Model) View() string {
	l := m.look
	l.Quiet = m.quiet()
	l.Say, l.Asking = m.said, false
	if by := m.heldBy(); l.Say == "" && by != "" {
		l.Say = "the screen on " + by + " has this run"
	}
	if m.q != nil {
		l.Say, l.Asking = m.q.text, true
	}
	if m.typing != noField {
		l.Say, l.Asking = fieldWords[m.typing]+" "+m.typed+typedEnd, true
		if m.typing == shelfField {
			l.Say = "shelve " + alarmName(l.Pick.Code) + ": " + l.Say
		}
	}
	if l.Page == LoopGains {
		l.Loop = &m.loop
	}
	if m.o.Replay != nil {
		p := m.o.Replay.State()
		l.Replay = &p
	}
	l.Line = func(w, h int) [][]chart.Cell { return m.cache.draw(m.s, m.tr, l.Unit, w, h) }
	return View(m.s, l)
}

func (m *Model) tell(t string) { m.said, m.saidAt = t, m.o.Now() }

// calls says beside the picture what calls a person.
func (m *Model) calls() tea.Cmd {
	l := m.look
	l.Quiet = m.quiet()
	if out := m.call.look(m.s, l, m.o.Now()); out != "" {
		return m.write(out)
	}
	return nil
}

// key takes one key press.
func (m *Model) key(k tea.KeyMsg) tea.Cmd {
	name := strings.ToLower(k.String())
	if name == "ctrl+c" {
		if m.q != nil && m.q.leave { // pressed again: meant
			return m.answer(true)
		}
		m.typing, m.q = noField, nil
		return m.leave()
	}
	switch {
	case m.typing != noField:
		m.typeKey(k)
		return nil
	case k.Paste: // pasted text is no command
		return nil
	case m.q != nil:
		switch name {
		case "y":
			return m.answer(true)
		case "n", "esc":
			return m.answer(false)
		case "h", "s": // these wait for nothing
			m.q = nil
			m.liveKey(name)
		}
		return nil
	}
	m.said = ""
	if m.look.Page == LoopGains && m.loopKey(name) || m.tunedKey(name) ||
		m.alarmKey(name) {
		return nil
	}
	switch name {
	case "l":
		if m.s.Info != nil {
			m.openLoop()
		}
	case "q":
		return m.leave()
	case "f":
		m.look.Unit = temp.Fahrenheit + temp.Celsius - m.look.Unit
	case "b":
		m.flip(BigDigits)
	case "/", "?", "f1":
		m.flip(Help)
	case "esc":
		m.look.Page = Dashboard
	default:
		if m.o.Replay != nil {
			replayKey(m.o.Replay, name)
		} else if m.s.Info != nil {
			m.liveKey(name)
		}
	}
	return nil
}

// verdict asks once, when a tuning test is done, what it came to.
func (m *Model) verdict() tea.Cmd {
	if m.o.Tuned == nil || m.asked || m.s.Test != control.TestDone {
		return nil
	}
	m.asked = true
	return func() tea.Msg {
		t, err := m.o.Tuned()
		return tunedMsg{t, err}
	}
}

// tunedKey takes the keys of the pages that a tuning test comes to; false if it is none of them.
func (m *Model) tunedKey(name string) bool {
	on := m.look.Page == Verdict || m.look.Page == Table
	if m.look.Tuned == nil || !on && name != "t" {
		return false
	}
	last := max(0, len(tunedText(m.look))-(m.look.H-3))
	switch name {
	case "t":
		if m.look.Page, m.look.Scroll = Verdict+Table-m.look.Page, 0; !on {
			m.look.Page = Verdict
		}
	case "down", " ":
		m.look.Scroll = min(last, m.look.Scroll+max(1, m.look.H-5))
	case "up":
		m.look.Scroll = max(0, m.look.Scroll-max(1, m.look.H-5))
	default:
		return false
	}
	return true
}

func (m *Model) flip(p Page) {
	if m.look.Page == p {
		p = Dashboard
	}
	m.look.Page = p
}

// kindOf says what a key asks, for those that make a question of themselves.
var kindOf = map[string]control.AskKind{"a": control.AskAcknowledge, "r": control.AskReset,
	"g": control.AskGoOn, "c": control.AskConfirm, "m": control.AskMore, "k": control.AskSkip,
	"w": control.AskAgain, "u": control.AskUndo, "x": control.AskStop}

func (m *Model) liveKey(name string) {
	if m.s.Phase == control.PhaseClosed { // nobody is there to take it
		m.tell("the run has ended")
		return
	}
	switch name {
	case "h":
		m.ask(control.Ask{Kind: control.AskHeatOff, By: "screen"})
		m.tell("heat off asked")
	case "s":
		m.ask(control.Ask{Kind: control.AskSilence, By: "screen"})
		m.tell("silence asked")
	case "n":
		m.typing, m.typed = noteField, ""
	case "e":
		if err := canSet(m.s); err != nil {
			m.tell(err.Error())
			return
		}
		m.typing, m.typed = setField, ""
	case "d":
		if m.s.ByHand > m.s.T {
			m.q = backDuty(m.s)
			return
		}
		if err := running(m.s); err != nil {
			m.tell(err.Error())
			return
		}
		m.typing, m.typed = dutyField, ""
	case "t":
		if m.s.Stay > m.s.T {
			m.q = &question{ask: control.Ask{Kind: control.AskStay, By: "screen"},
				text: "end the stay, the profile goes on  y/n", moot: basis(m.s)}
			return
		}
		if err := canStay(m.s); err != nil {
			m.tell(err.Error())
			return
		}
		m.typing, m.typed = stayField, ""
	default:
		if kind, ok := kindOf[name]; ok {
			m.put(ask(kind, m.s, m.look.Unit))
		}
	}
}

// put shows a question, or why there is none.
func (m *Model) put(q *question, err error) {
	if err != nil {
		m.tell(err.Error())
		return
	}
	m.q = q
}

// Longest line that a person can type, in characters.
const longestLine = 120

func (m *Model) typeKey(k tea.KeyMsg) {
	switch k.Type {
	case tea.KeyEsc:
		m.typing = noField
	case tea.KeyEnter:
		m.typedLine()
	case tea.KeyBackspace, tea.KeyDelete:
		if r := []rune(m.typed); len(r) > 0 {
			m.typed = string(r[:len(r)-1])
		}
	case tea.KeyRunes, tea.KeySpace:
		for _, r := range k.Runes {
			if r >= ' ' && r != 0x7f && len([]rune(m.typed)) < longestLine {
				m.typed += string(r)
			}
		}
	}
}

func (m *Model) typedLine() {
	was, text := m.typing, strings.TrimSpace(m.typed)
	m.typing = noField
	if text == "" {
		return
	}
	switch was {
	case stayField:
		m.put(askStay(text, m.s))
	case setField:
		m.put(askSet(text, m.s, m.look.Unit))
	case dutyField:
		m.put(askDuty(text, m.s))
	case shelfField:
		m.put(askShelve(text, m.look.Pick.Code, m.s))
	case noteField:
		m.ask(control.Ask{Kind: control.AskNote, By: "screen", Text: text})
		m.tell("note given")
	}
}

func (m *Model) answer(yes bool) tea.Cmd {
	q := m.q
	m.q = nil
	if !yes {
		m.tell("nothing was asked")
		return nil
	}
	if q.take {
		m.o.Lease.Take()
	} else if by := m.heldBy(); by != "" && q.ask.Kind.Raises() {
		m.q = &question{ask: q.ask, moot: q.moot, take: true,
			text: "the screen on " + by + " has this run: take it over, and " + q.text}
		return nil
	}
	m.ask(q.ask)
	if q.leave {
		return tea.Quit
	}
	m.tell("asked: " + string(q.ask.Kind))
	return nil
}

// heldBy gives the other screen that has the lease of the run; "" if there is none.
func (m *Model) heldBy() string {
	if m.o.Lease == nil {
		return ""
	}
	if by, mine := m.o.Lease.Lease(); !mine {
		return by
	}
	return ""
}

func (m *Model) leave() tea.Cmd {
	m.q = leaving(m.s, m.o.LeaveStops)
	if m.q == nil {
		return tea.Quit
	}
	return nil
}
