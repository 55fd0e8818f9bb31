package tui

import (
	"fmt"
	"math"
	"strings"

	"strawline/control"
	"strawline/control/tune"
	"strawline/probe/temp"
	"strawline/tui/chart"
)

// Loop is what the gains page shows besides the Snapshot: the gains that a person is about to ask
// for, and what the model makes of them. It is worked out when they change, not for each frame.
type Loop struct {
	Next      control.Gains
	Row       int  // 0 to 3: Kp, Ti, Td, setpoint weight
	Table     bool // every rule instead of the chart
	Was, Will judged
	Offers    []tune.Choice // recommended, bolder, calmer; empty without a model
	Rules     []tune.Report
	Why       string // why nothing can be predicted; "" if it can
}

// judged is what the model makes of gains.
type judged struct {
	gains  control.Gains
	report tune.Report
	answer []tune.Point
}

// answerSpan is how long the chart of the gains page looks, s.
const answerSpan = 600

// modelOf gives the model in tune's form; ok is false if the run has none.
func modelOf(i *control.Info) (m tune.Model, ok bool) {
	if i == nil || i.Model == nil {
		return m, false
	}
	f := i.Model
	m = tune.Model{Kind: tune.Integrating, Kv: f.SlopeCS, L: f.DeadS}
	if f.TimeS > 0 {
		m = tune.Model{Kind: tune.First, K: f.RiseC, T: f.TimeS, L: f.DeadS}
		if m.K == 0 {
			m.K = f.SlopeCS * f.TimeS
		}
		if f.SecondS > 0 {
			m.Kind, m.T2 = tune.Second, f.SecondS
		}
	}
	return m, m.Check() == nil
}

// stageOf gives what a prediction plays: readings, window, and the setpoint of now.
func stageOf(s control.Snapshot, m tune.Model) (tune.Noise, float64, tune.Scene) {
	n := tune.Noise{Sigma: s.Info.Model.NoiseC, Every: 0.25}
	if n.Sigma == 0 {
		n.Sigma = 0.3
	}
	sc := tune.DefaultScene(m)
	if t := float64(s.Set); s.HasSet && t > sc.Room+20 && (m.Kind == tune.Integrating ||
		t < sc.Room+0.9*m.K) {
		sc.Set = t
	}
	sc.Hold = s.Info.Model.HoldPM / 1000
	return n, s.Info.Shop.WindowS, sc
}

// work fills in what the model makes of the gains now and of the next ones.
func (l *Loop) work(s control.Snapshot) {
	m, ok := modelOf(s.Info)
	if !ok {
		l.Why = "no model of this oven: nothing can be predicted. strawline tune finds one"
		l.Was, l.Will, l.Offers = judged{gains: s.Gains}, judged{gains: l.Next}, nil
		return
	}
	n, window, sc := stageOf(s, m)
	setup := tune.NewSetup(m, n, window)
	judge := func(was judged, g control.Gains) judged {
		if was.gains == g && was.answer != nil {
			return was
		}
		t := tune.Gains{K: g.Kp, Ti: g.TiS, Td: g.TdS, B: g.Weight}
		j := judged{gains: g, report: tune.Judge(g.From, m, t, setup, n.Sigma, sc)}
		if j.report.Margins.Stable {
			if a, err := tune.Answer(m, t, setup, sc, answerSpan); err == nil {
				j.answer = a
			}
		}
		return j
	}
	l.Was, l.Will = judge(l.Was, s.Gains), judge(l.Will, l.Next)
	if l.Offers == nil {
		if best, bold, calm, err := tune.Recommend(m, n, window); err == nil {
			l.Offers = []tune.Choice{best, bold, calm}
		}
	}
	if l.Table && l.Rules == nil {
		l.Rules = tune.Table(m, n, window, sc)
	}
}

// offerNames are the words of the three offers, in their order.
var offerNames = [...]string{"recommended", "bolder", "calmer"}

// offer makes one of the three the next gains.
func (l *Loop) offer(i int) bool {
	if i >= len(l.Offers) {
		return false
	}
	g := l.Offers[i].Gains
	l.Next = control.Gains{Kp: digits3(g.K), TiS: digits3(g.Ti), TdS: digits3(g.Td), Weight: g.B,
		From: offerNames[i] + " for the model"}
	return true
}

// digits3 keeps three digits: more would claim what no test tells.
func digits3(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	p := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*p) / p
}

// turn moves the chosen figure by one step, up or down: a tenth of it, of the weight a tenth.
func (l *Loop) turn(up bool) {
	f, d := 1.1, 0.1
	if !up {
		f, d = 1/1.1, -0.1
	}
	g := &l.Next
	g.From = "set by a person"
	switch l.Row {
	case 0:
		g.Kp = digits3(g.Kp * f)
	case 1:
		g.TiS = digits3(g.TiS * f)
	case 2:
		if g.TdS = digits3(g.TdS * f); g.TdS < 1 {
			g.TdS = 0
			if up {
				g.TdS = 1
			}
		}
	case 3:
		g.Weight = math.Round(10*min(1, max(0, g.Weight+d))) / 10
	}
}

// loopPage draws the gains page.
func loopPage(sh *sheet, s control.Snapshot, l Look) {
	head(sh, 0, s, l)
	p := l.Loop
	if p == nil || s.Info == nil || s.Info.Shop.NoHeater {
		sh.text(1, 2, plain, "the heat is yours to switch: there are no gains")
		say(sh, l.H-2, l)
		return
	}
	y := 1
	if l.H >= 24 {
		y++
	}
	wide := l.W >= 80
	col := 14
	sh.text(1, y, strong, "loop gains")
	sh.text(col, y, faint, "now")
	sh.text(col+14, y, faint, "next")
	if wide {
		sh.fit(col+30, y, l.W-col-31, faint, "now: "+s.Gains.From)
	}
	y++
	now, next := gainRows(s.Gains, l.Unit), gainRows(p.Next, l.Unit)
	for i, name := range gainNames {
		k, mark := plain, "  "
		if i == p.Row {
			k, mark = strong, "→ "
		}
		sh.text(1, y+i, k, mark+name)
		sh.text(col, y+i, plain, now[i])
		if now[i] != next[i] {
			k = strong
		}
		sh.text(col+14, y+i, k, next[i])
		if wide {
			sh.fit(col+30, y+i, l.W-col-31, faint, gainMeans[i])
		}
	}
	y += len(gainNames)
	if l.H >= 24 {
		y++
	}
	if !p.Table || p.Why != "" {
		y = p.figures(sh, y, col, l)
	}
	p.below(sh, y, s, l)
	if say(sh, l.H-2, l); l.Say == "" {
		meanwhile(sh, l.H-2, s, l)
	}
	loopKeys(sh, l.H-1, l)
}

// meanwhile says on the gains page what must not be missed there: an alarm or a trip, else the
// reading, the setpoint and the duty.
func meanwhile(sh *sheet, y int, s control.Snapshot, l Look) {
	if l.Replay != nil {
		return
	}
	if word, k := shout(s, l.Quiet); word != "" {
		sh.fit(0, y, l.W, k, " !! "+word+" ")
		return
	}
	sh.fit(1, y, l.W-1, plain, readingWords(s, l))
}

// readingWords gives the reading, the setpoint and the duty in one line.
func readingWords(s control.Snapshot, l Look) string {
	text := "no reading"
	if s.HasTemp && l.Quiet == 0 {
		text = whole(s.Temp, l.Unit)
	}
	if s.HasSet && (l.W >= 60 || s.ByHand <= s.T) {
		text += "  set " + whole(s.Set, l.Unit)
	}
	if l.W >= 60 {
		text += "  duty"
	}
	return text + "  " + dutyWords(s)
}

var gainNames = [...]string{"Kp", "Ti", "Td", "weight"}

var gainMeans = [...]string{"duty for each degree off", "how soon a lasting error goes",
	"how far ahead it looks", "of a moved setpoint"}

// gainRows writes the four with their units.
func gainRows(g control.Gains, u temp.Unit) [4]string {
	kp := g.Kp * 100
	if u == temp.Fahrenheit {
		kp /= 1.8
	}
	return [4]string{fmt.Sprintf("%.3g %%/%s", kp, u), fmt.Sprintf("%.3g s", g.TiS),
		fmt.Sprintf("%.3g s", g.TdS), fmt.Sprintf("%.1f", g.Weight)}
}

// made is one line of what the model makes of gains.
type made struct{ name, now, next, word string }

func (p *Loop) list(u temp.Unit) []made {
	a, b := p.Was.report, p.Will.report
	row := func(name string, f func(tune.Report) string, word string) made {
		return made{name, f(a), f(b), word}
	}
	stable := func(f func(tune.Margins) string) func(tune.Report) string {
		return func(r tune.Report) string {
			if !r.Margins.Stable {
				return "swings"
			}
			return f(r.Margins)
		}
	}
	foreseen := func(f func(tune.Prediction) string) func(tune.Report) string {
		return func(r tune.Report) string {
			if !r.Predicted || !r.Margins.Stable {
				return "?"
			}
			return f(r.Prediction)
		}
	}
	return []made{
		row("sens. peak", stable(func(m tune.Margins) string { return fmt.Sprintf("%.2f", m.Ms) }),
			calmWord(b.Margins)),
		row("door: over", foreseen(func(p tune.Prediction) string { return apartBy(p.Door.Over, u) }),
			"past the mark after 20 s of door"),
		row("door: back", foreseen(func(p tune.Prediction) string { return seconds(p.Door) }),
			"until within 1 °C again"),
		row("step: over", foreseen(func(p tune.Prediction) string {
			return fmt.Sprintf("%.0f %%", 100*p.Step.Over)
		}), "of a small moved setpoint"),
		row("gain margin", stable(func(m tune.Margins) string { return times(m.GM) }),
			"so much more makes it swing"),
		row("phase", stable(func(m tune.Margins) string { return upTo(m.PM, "°") }), ""),
		row("delay", stable(func(m tune.Margins) string { return upTo(m.Delay, " s") }),
			"more dead time that it stands"),
	}
}

func times(v float64) string {
	if math.IsInf(v, 0) {
		return "over 200x"
	}
	return fmt.Sprintf("%.1fx", v)
}

func upTo(v float64, unit string) string {
	if math.IsInf(v, 0) {
		return "any"
	}
	return fmt.Sprintf("%.0f%s", v, unit)
}

func apartBy(c float64, u temp.Unit) string {
	if u == temp.Fahrenheit {
		c *= 1.8
	}
	return fmt.Sprintf("%.1f %s", c, u)
}

func seconds(r tune.Response) string {
	if !r.Settled {
		return "never"
	}
	return fmt.Sprintf("%.0f s", r.Settle)
}

// calmWord says what a sensitivity peak means. The steps are the textbooks': 1.2 to 2 is usual
// (Åström and Hägglund, from memory).
func calmWord(m tune.Margins) string {
	switch {
	case !m.Stable:
		return "it swings by itself: do not take it"
	case m.Ms <= 1.4:
		return "very calm"
	case m.Ms <= 1.7:
		return "calm"
	case m.Ms <= 2:
		return "bold: little is left for an oven that changes"
	}
	return "it will ring"
}

// figures writes what the model says, and gives the row behind it.
func (p *Loop) figures(sh *sheet, y, col int, l Look) int {
	if p.Why != "" {
		sh.fit(1, y, l.W-1, warned, p.Why)
		return y + 2
	}
	list := p.list(l.Unit)
	if room := l.H - 3 - y; len(list) > room {
		list = list[:max(0, room)]
	}
	for _, f := range list {
		sh.fit(1, y, col-2, faint, f.name)
		sh.text(col, y, plain, f.now)
		k := plain
		if f.now != f.next {
			k = strong
		}
		sh.text(col+14, y, k, f.next)
		if l.W >= 80 {
			sh.fit(col+30, y, l.W-col-31, faint, f.word)
		}
		y++
	}
	return y
}

// below fills what is left: the chart or the rules, and why.
func (p *Loop) below(sh *sheet, y int, s control.Snapshot, l Look) {
	end := l.H - 2
	for i, c := range p.Offers {
		if p.Next.From == offerNames[i]+" for the model" && end-y > 1 && c.Reason != "" {
			end--
			sh.fit(1, end, l.W-1, plain, c.Reason)
		}
	}
	switch {
	case p.Why != "":
		sh.fit(1, y, l.W-1, faint, "gains can be changed all the same, with a confirmation")
	case p.Table:
		rules(sh, y, end, p.Rules, l)
	case end-y >= 6 && (p.Was.answer != nil || p.Will.answer != nil):
		sh.fit(1, y, l.W-1, faint,
			"after a door of 20 s, by the model: now ····  next ────  from the setpoint")
		drawLine(sh, y+1, chart.Draw(p.plot(l.W, end-y-1, l.Unit)))
	}
}

// deepest is how far below the setpoint the chart goes, °C: the way down is the door's alone.
const deepest = -8.0

// plot is both answers in one chart: dotted as it is, solid as it would be.
func (p *Loop) plot(w, h int, u temp.Unit) chart.Plot {
	f := 1.0
	if u == temp.Fahrenheit {
		f = 1.8
	}
	c := chart.Plot{W: w, H: h, X1: answerSpan, Now: -1, Gap: 10, Limit: math.NaN(), MinRange: 4,
		Clock: func(x float64) string { return fmt.Sprintf("%.0f s", x) },
		Value: func(y float64) string { return fmt.Sprintf("%+.0f", y) }}
	for _, q := range p.Will.answer {
		v := max(deepest, q.Off) * f
		c.Trace = append(c.Trace, chart.Bar{X: q.T, Min: v, Max: v})
	}
	for _, q := range p.Was.answer {
		c.Plan = append(c.Plan, chart.Point{X: q.T, Y: max(deepest, q.Off) * f})
	}
	return c
}

// rules lists every rule with its gains and what the model makes of them.
func rules(sh *sheet, y, end int, rs []tune.Report, l Look) {
	if y >= end {
		return
	}
	sh.fit(1, y, l.W-1, faint, fmt.Sprintf("%-30s%9s%8s%7s%8s  %s", "rule",
		"Kp %/"+l.Unit.String(), "Ti s", "Td s", "peak", "door back"))
	for i, r := range rs {
		if y+1+i >= end {
			return
		}
		text := fmt.Sprintf("%-30s", r.Name)
		if !r.OK {
			text += " " + r.Why
		} else {
			kp := r.Gains.K * 100
			if l.Unit == temp.Fahrenheit {
				kp /= 1.8
			}
			ms := "swings"
			if r.Margins.Stable {
				ms = fmt.Sprintf("%.2f", r.Margins.Ms)
			}
			text += fmt.Sprintf("%9.3g%8.0f%7.0f%8s  %s  %s", kp, r.Gains.Ti, r.Gains.Td, ms,
				seconds(r.Prediction.Door), r.Warning)
		}
		sh.fit(1, y+1+i, l.W-1, plain, strings.TrimRight(text, " "))
	}
}

// loopKeys is the bottom line of the page.
func loopKeys(sh *sheet, y int, l Look) {
	x := 0
	for _, b := range loopBindings {
		if l.Replay != nil && b.key != "esc" && b.key != "w" {
			continue
		}
		n := len([]rune(b.show)) + 1 + len([]rune(b.word))
		if x+n > l.W {
			return
		}
		x = sh.text(sh.text(x, y, strong, b.show)+1, y, faint, b.word) + 2
	}
}
