// Command ansipic turns captured terminal text, escape codes and all, into an SVG picture, so
// that a screen can be looked at as a person sees it without a terminal and whatever fonts the
// machine has. Each run of text is placed by its column, braille is drawn as circles and
// blocks as rectangles. It is a tool of this house and no part of the program.
//
//	ansipic -cols 80 -rows 24 <screen.ans >screen.svg
package main

import (
	"bufio"
	"bytes"
	"flag"
	"fmt"
	"io"
	"os"
)

func main() {
	cols := flag.Int("cols", 80, "width of the terminal in cells")
	rows := flag.Int("rows", 24, "height of the terminal in cells")
	light := flag.Bool("light", false, "dark text on a light ground")
	flag.Parse()
	if err := run(os.Stdin, os.Stdout, *cols, *rows, *light); err != nil {
		fmt.Fprintln(os.Stderr, "ansipic:", err)
		os.Exit(1)
	}
}

func run(in io.Reader, out io.Writer, cols, rows int, light bool) error {
	if cols < 1 || rows < 1 || cols > 1000 || rows > 1000 {
		return fmt.Errorf("%d by %d cells: each must be 1 to 1000", cols, rows)
	}
	text, err := io.ReadAll(in)
	if err != nil {
		return fmt.Errorf("reading the screen: %w", err)
	}
	w := bufio.NewWriter(out)
	picture(w, bytes.TrimSuffix(text, []byte("\n")), cols, rows, light)
	return w.Flush()
}
