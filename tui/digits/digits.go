// Package digits draws figures and short words large, out of full and half blocks, in any size
// that fits. A figure is made of seven bars, so that it reads across a shop; a word is made of
// letters five dots wide and seven high. Every row that it gives has the same width.
package digits

import "strings"

// bitmap is a field of dots, each half a character cell high and one wide, about square.
type bitmap struct {
	w, h int
	on   []bool
}

func newBitmap(w, h int) *bitmap { return &bitmap{w: w, h: h, on: make([]bool, w*h)} }

func (b *bitmap) fill(x, y, w, h int) {
	for j := max(0, y); j < min(b.h, y+h); j++ {
		for i := max(0, x); i < min(b.w, x+w); i++ {
			b.on[j*b.w+i] = true
		}
	}
}

// rows turns pairs of dots, one above the other, into characters.
func (b *bitmap) rows() []string {
	var out []string
	for y := 0; y < b.h; y += 2 {
		var s strings.Builder
		for x := range b.w {
			up := b.on[y*b.w+x]
			down := y+1 < b.h && b.on[(y+1)*b.w+x]
			switch {
			case up && down:
				s.WriteRune('█')
			case up:
				s.WriteRune('▀')
			case down:
				s.WriteRune('▄')
			default:
				s.WriteRune(' ')
			}
		}
		out = append(out, s.String())
	}
	return out
}

// bars of a figure: 1 top, 2 upper right, 4 lower right, 8 bottom, 16 lower left, 32 upper
// left, 64 middle.
var figures = map[rune]int{
	'0': 63, '2': 91, '3': 79, '4': 102, '5': 109, '6': 125, '7': 7, '8': 127, '9': 111,
	'-': 64, 'F': 113, 'C': 57, ' ': 0,
}

// size is one size of figure: dots across, dots down, and the thickness of a bar.
type size struct{ w, h, t int }

// sizeFor gives the figure of so many dots in height; heights are odd, so that the middle bar
// is in the middle.
func sizeFor(h int) size {
	t := max(1, (h+2)/7)
	return size{w: max(4, h*3/5+(t-1)/2), h: h, t: t}
}

// width is what a figure takes, without the space to the next one.
func (s size) width(r rune) int {
	switch r {
	case '1':
		return s.t * 2
	case '.', ':', '+':
		if r == '+' {
			return s.w
		}
		return s.t
	case '°':
		return s.t * 3
	case ' ':
		return s.t * 2
	}
	return s.w
}

func (s size) total(text string) int {
	n := 0
	for _, r := range text {
		n += s.width(r) + s.t
	}
	return max(0, n-s.t)
}

// bar draws one of the seven bars of a figure that begins at column x.
func (s size) bar(b *bitmap, x, bit int) {
	mid, half := (s.h-s.t)/2, (s.h+s.t)/2
	switch bit {
	case 1:
		b.fill(x, 0, s.w, s.t)
	case 2:
		b.fill(x+s.w-s.t, 0, s.t, half)
	case 4:
		b.fill(x+s.w-s.t, mid, s.t, s.h-mid)
	case 8:
		b.fill(x, s.h-s.t, s.w, s.t)
	case 16:
		b.fill(x, mid, s.t, s.h-mid)
	case 32:
		b.fill(x, 0, s.t, half)
	case 64:
		b.fill(x, mid, s.w, s.t)
	}
}

func (s size) draw(b *bitmap, x int, r rune) {
	mid := (s.h - s.t) / 2
	switch r {
	case '1':
		b.fill(x+s.t, 0, s.t, s.h)
		b.fill(x, 0, s.t, s.t)
	case '.':
		b.fill(x, s.h-s.t, s.t, s.t)
	case ':':
		b.fill(x, mid-s.t-s.t/2, s.t, s.t)
		b.fill(x, mid+s.t+s.t/2, s.t, s.t)
	case '+':
		b.fill(x, mid, s.w, s.t)
		b.fill(x+(s.w-s.t)/2, mid-s.t, s.t, 3*s.t)
	case '°':
		b.fill(x, 0, 3*s.t, s.t)
		b.fill(x, 2*s.t, 3*s.t, s.t)
		b.fill(x, 0, s.t, 3*s.t)
		b.fill(x+2*s.t, 0, s.t, 3*s.t)
	default:
		for bit := 1; bit <= 64; bit <<= 1 {
			if figures[r]&bit != 0 {
				s.bar(b, x, bit)
			}
		}
	}
}

// Figure draws text (0 to 9, minus, plus, point, colon, °, F, C and spaces) as large as fits
// into w by h cells; nil if nothing does. Other characters leave a blank.
func Figure(text string, w, h int) []string {
	for tall := 2*h - 1; tall >= 5; tall -= 2 {
		s := sizeFor(tall)
		total := s.total(text)
		if total > w || total == 0 {
			continue
		}
		b := newBitmap(total, tall)
		x := 0
		for _, r := range text {
			s.draw(b, x, r)
			x += s.width(r) + s.t
		}
		return b.rows()
	}
	return nil
}

// Invert turns drawn rows inside out, with a border of one cell at each side and half a cell
// above and below: the text stands as holes in a solid field, which needs no colour to be
// seen. It gives one row more than it takes.
func Invert(rows []string) []string {
	if len(rows) == 0 {
		return nil
	}
	w := len([]rune(rows[0]))
	b := newBitmap(w+2, 2*len(rows)+2)
	b.fill(0, 0, b.w, b.h)
	for y, row := range rows {
		for x, r := range []rune(row) {
			if r == '█' || r == '▀' {
				b.on[(2*y+1)*b.w+x+1] = false
			}
			if r == '█' || r == '▄' {
				b.on[(2*y+2)*b.w+x+1] = false
			}
		}
	}
	return b.rows()
}
