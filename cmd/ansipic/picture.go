package main

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"io"
	"strings"

	uv "github.com/charmbracelet/ultraviolet"
	"github.com/charmbracelet/x/vt"
)

// Cell size in picture units; a cell is twice as high as wide.
const (
	cw = 10
	ch = 20
)

// ink is how a cell looks; cells that look the same and stand side by side make one run.
type ink struct {
	fore, back string
	faint      bool
	bold       bool
}

type painter struct {
	w          io.Writer
	fore, back string
}

// picture writes the SVG of text shown on a terminal of so many cells.
func picture(w io.Writer, text []byte, cols, rows int, light bool) {
	em := vt.NewEmulator(cols, rows)
	go io.Copy(io.Discard, em) // its answers to queries; it would wait for ever to give them
	em.Write(bytes.ReplaceAll(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")),
		[]byte("\n"), []byte("\r\n")))
	p := painter{w: w, fore: "#d6d6d6", back: "#101214"}
	if light {
		p.fore, p.back = "#202020", "#fbfaf7"
	}
	fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" `+
		`font-family="DejaVu Sans Mono, monospace" font-size="16">`+"\n", cols*cw, rows*ch)
	fmt.Fprintf(w, `<rect width="100%%" height="100%%" fill="%s"/>`+"\n", p.back)
	for y := range rows {
		p.row(em, y, cols)
	}
	fmt.Fprintln(w, "</svg>")
}

func (p painter) row(em *vt.Emulator, y, cols int) {
	var run strings.Builder
	var look ink
	start := 0
	flush := func(end int) {
		p.run(run.String(), look, start, end, y)
		run.Reset()
		start = end
	}
	for x := range cols {
		c := em.CellAt(x, y)
		text, now := " ", p.look(c)
		if c != nil && c.Content != "" {
			text = c.Content
		}
		if now != look {
			flush(x)
			look = now
		}
		run.WriteString(text)
	}
	flush(cols)
}

func (p painter) look(c *uv.Cell) ink {
	l := ink{fore: p.fore}
	if c == nil {
		return l
	}
	l.fore = hex(c.Style.Fg, p.fore)
	l.back = hex(c.Style.Bg, "")
	if c.Style.Attrs&uv.AttrReverse != 0 {
		back := l.back
		if back == "" {
			back = p.back
		}
		l.fore, l.back = back, l.fore
	}
	l.faint = c.Style.Attrs&uv.AttrFaint != 0
	l.bold = c.Style.Attrs&uv.AttrBold != 0
	return l
}

func hex(c color.Color, none string) string {
	if c == nil {
		return none
	}
	r, g, b, _ := c.RGBA()
	return fmt.Sprintf("#%02x%02x%02x", r>>8, g>>8, b>>8)
}

// run draws cells start to end of row y that look the same.
func (p painter) run(text string, l ink, start, end, y int) {
	if end <= start {
		return
	}
	if l.back != "" {
		p.rect(start*cw, y*ch, (end-start)*cw, ch, l.back)
	}
	style := fmt.Sprintf(`fill="%s"`, l.fore)
	if l.faint {
		style += ` opacity="0.55"`
	}
	if l.bold {
		style += ` font-weight="bold"`
	}
	fmt.Fprintf(p.w, "<g %s>", style)
	var words strings.Builder
	from := start
	flush := func() {
		if words.Len() > 0 {
			n := len([]rune(words.String()))
			fmt.Fprintf(p.w, `<text x="%d" y="%d" textLength="%d" lengthAdjust="spacingAndGlyphs"`+
				`>%s</text>`, from*cw, y*ch+15, n*cw,
				html.EscapeString(words.String()))
		}
		words.Reset()
	}
	for i, r := range []rune(text) {
		x := start + i
		if r == ' ' || p.shape(r, x, y) { // each word has its own place
			flush()
			continue
		}
		if words.Len() == 0 {
			from = x
		}
		words.WriteRune(r)
	}
	flush()
	fmt.Fprintln(p.w, "</g>")
}

func (p painter) rect(x, y, w, h int, fill string) {
	f := ""
	if fill != "" {
		f = fmt.Sprintf(` fill="%s"`, fill)
	}
	fmt.Fprintf(p.w, `<rect x="%d" y="%d" width="%d" height="%d"%s/>`, x, y, w, h, f)
}

// shape draws braille, blocks and box lines; it says false for what is a letter.
func (p painter) shape(r rune, col, row int) bool {
	x, y := col*cw, row*ch
	switch {
	case r > 0x2800 && r <= 0x28ff:
		dots := [4][2]rune{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}
		for dy := range 4 {
			for dx := range 2 {
				if (r-0x2800)&dots[dy][dx] != 0 {
					fmt.Fprintf(p.w, `<circle cx="%.1f" cy="%.1f" r="1.9"/>`,
						float64(x)+2.5+5*float64(dx), float64(y)+2.5+5*float64(dy))
				}
			}
		}
	case r == '█':
		p.rect(x, y, cw, ch, "")
	case r == '▀':
		p.rect(x, y, cw, ch/2, "")
	case r == '▄':
		p.rect(x, y+ch/2, cw, ch/2, "")
	case r >= '▁' && r < '█':
		h := int(r-'▁'+1) * ch / 8
		p.rect(x, y+ch-h, cw, h, "")
	case r == '░' || r == '▒' || r == '▓':
		fmt.Fprintf(p.w, `<rect x="%d" y="%d" width="%d" height="%d" fill-opacity="%.2f"/>`,
			x, y, cw, ch, 0.25*float64(r-'░'+1))
	case r == '▌':
		p.rect(x, y, cw/2, ch, "")
	case r == '▐':
		p.rect(x+cw/2, y, cw/2, ch, "")
	case arms[r] != 0:
		p.box(arms[r], x, y)
	default:
		return false
	}
	return true
}

// arms says which ways a box character goes: 1 up, 2 right, 4 down, 8 left.
var arms = map[rune]int{'─': 10, '│': 5, '┌': 6, '┐': 12, '└': 3, '┘': 9, '├': 7, '┤': 13,
	'┬': 14, '┴': 11, '┼': 15}

func (p painter) box(way, x, y int) {
	mx, my := x+cw/2, y+ch/2
	for i, r := range [4][4]int{{mx, y, 1, ch/2 + 1}, {mx, my, cw / 2, 1}, {mx, my, 1, ch / 2},
		{x, my, cw/2 + 1, 1}} {
		if way&(1<<i) != 0 {
			p.rect(r[0], r[1], r[2], r[3], "")
		}
	}
}
