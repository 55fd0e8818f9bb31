package tui

import (
	"strings"
	"unicode"

	"github.com/charmbracelet/lipgloss"
	"github.com/mattn/go-runewidth"
	"github.com/muesli/termenv"
)

// style is how a cell looks. Whatever a style says, a word or a shape says as well, because a
// terminal may show none of them.
type style uint8

const (
	plain   style = iota
	faint         // labels, axes, what lies ahead
	strong        // what a person must read first
	alarmed       // an alarm of high priority
	warned        // any other alarm, and doubt
	over          // the line above the limit
	strip         // the colour of bright steel at this heat
	styles
)

// Ink turns styles into what a terminal understands: nothing at all under NO_COLOR.
type Ink struct {
	before, after [styles]string
	r             *lipgloss.Renderer
}

// NewInk makes the ink for a terminal of the given colours. It asks the terminal nothing.
func NewInk(p termenv.Profile) Ink {
	r := lipgloss.NewRenderer(new(strings.Builder))
	r.SetColorProfile(p)
	r.SetHasDarkBackground(true) // never asked for: no colour here depends on it
	i := Ink{r: r}
	i.add(faint, r.NewStyle().Faint(true))
	i.add(strong, r.NewStyle().Bold(true))
	i.add(alarmed, r.NewStyle().Bold(true).Foreground(lipgloss.Color("15")).
		Background(lipgloss.Color("1")))
	i.add(warned, r.NewStyle().Foreground(lipgloss.Color("0")).Background(lipgloss.Color("3")))
	i.add(over, r.NewStyle().Foreground(lipgloss.Color("9")))
	return i
}

func (i *Ink) add(k style, s lipgloss.Style) {
	i.before[k], i.after[k], _ = strings.Cut(s.Render("\x00"), "\x00")
}

// withStrip gives the ink with the strip's colour, written "#rrggbb".
func (i Ink) withStrip(hex string) Ink {
	if hex != "" && i.r != nil {
		i.add(strip, i.r.NewStyle().Foreground(lipgloss.Color(hex)))
	}
	return i
}

type cell struct {
	r rune
	s style
}

// sheet is a field of cells that becomes the screen. Every line of it is exactly w cells wide.
type sheet struct {
	w, h  int
	cells []cell
}

func newSheet(w, h int) *sheet {
	s := &sheet{w: max(0, w), h: max(0, h)}
	s.cells = make([]cell, s.w*s.h)
	for i := range s.cells {
		s.cells[i].r = ' '
	}
	return s
}

func (s *sheet) put(x, y int, r rune, k style) {
	if x >= 0 && y >= 0 && x < s.w && y < s.h {
		s.cells[y*s.w+x] = cell{r, k}
	}
}

// text writes a string from x on and gives the column behind it. A character that is not one
// cell wide, control characters among them, becomes a question mark: names and notes come
// from files and must not move the cursor.
func (s *sheet) text(x, y int, k style, t string) int {
	for _, r := range t {
		s.put(x, y, safe(r), k)
		x++
	}
	return x
}

// fit writes a string from x on into at most w cells; what does not fit ends in "…".
func (s *sheet) fit(x, y, w int, k style, t string) int {
	return s.text(x, y, k, shorten(t, w))
}

// rows writes drawn rows, such as big digits.
func (s *sheet) rows(x, y int, k style, rows []string) {
	for i, row := range rows {
		s.text(x, y+i, k, row)
	}
}

// safe lets through what every terminal shows in one cell and joins with nothing beside it.
func safe(r rune) rune {
	switch {
	case r >= ' ' && r < 0x7f, r > 0xa0 && r <= 0xff && r != 0xad, // not the soft hyphen
		r >= '─' && r <= '█', r >= '░' && r <= '▓', r > 0x2800 && r <= 0x28ff,
		strings.ContainsRune("…–—‘’“”•→←↑↓▲▌€", r):
		return r
	case unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic) && unicode.IsLetter(r) &&
		narrow.RuneWidth(r) == 1:
		return r
	}
	return '?'
}

// narrow measures without regard to the locale: there a box line may count as two cells.
var narrow = runewidth.Condition{StrictEmojiNeutral: true}

func shorten(t string, w int) string {
	r := []rune(t)
	if len(r) <= w {
		return t
	}
	if w <= 1 {
		return string(r[:max(0, w)])
	}
	return strings.TrimRight(string(r[:w-1]), " ") + "…"
}

// String writes the sheet, one line a row, without a line end behind the last.
func (s *sheet) string(ink Ink) string {
	var b strings.Builder
	b.Grow(len(s.cells) * 2)
	for y := range s.h {
		if y > 0 {
			b.WriteByte('\n')
		}
		last := plain
		for _, c := range s.cells[y*s.w : (y+1)*s.w] {
			if c.s != last {
				b.WriteString(ink.after[last])
				b.WriteString(ink.before[c.s])
				last = c.s
			}
			b.WriteRune(c.r)
		}
		b.WriteString(ink.after[last])
	}
	return b.String()
}
