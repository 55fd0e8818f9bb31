package plant

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Parse reads an oven file: TOML with the keys of Params, the blade's in a table [blade]. A key
// that is missing has oven A's figure, or oven B's under like = "B". An unknown key, a value of
// another type, a figure outside its range and one too fast for the model's step are errors of
// one line that say line and key and what is allowed.
func Parse(text []byte) (Params, error) {
	var first struct {
		Like any `toml:"like"`
	}
	if err := toml.Unmarshal(text, &first); err != nil {
		return Params{}, explain(err)
	}
	lines := keyLines(text)
	if err := unknown(lines); err != nil {
		return Params{}, err
	}
	base := A()
	switch first.Like {
	case nil, "A":
	case "B":
		base = B()
	default:
		return Params{}, fmt.Errorf(`line %d: like must be "A" or "B"`, lines["like"])
	}
	file := struct {
		Like string `toml:"like"`
		*Params
	}{Params: &base}
	d := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := d.Decode(&file); err != nil {
		return Params{}, explain(err)
	}
	if err := base.Check(); err != nil {
		return Params{}, place(err, lines)
	}
	return base, nil
}

// place puts the line of its key before a fault; a figure that the file does not have is
// oven A's or B's.
func place(err error, lines map[string]int) error {
	var f *fault
	if !errors.As(err, &f) {
		return err
	}
	if line, is := lines[f.key]; is {
		return fmt.Errorf("line %d: %w", line, err)
	}
	return fmt.Errorf("with the other figures of this file %w", err)
}

// explain makes one line of what the TOML library complains of.
func explain(err error) error {
	var one *toml.DecodeError
	if !errors.As(err, &one) {
		return err
	}
	line, column := one.Position()
	where := fmt.Sprintf("line %d, column %d: ", line, column)
	what := strings.TrimPrefix(one.Error(), "toml: ")
	if key := strings.Join(one.Key(), "."); key != "" &&
		(strings.HasPrefix(what, "cannot") || strings.HasPrefix(what, "unable")) {
		return fmt.Errorf("%s%s must be %s", where, key, kind(key))
	}
	return errors.New(where + what)
}

// kind says what a key takes.
func kind(key string) string {
	if key == "blade" {
		return "a table"
	}
	for _, f := range A().fields() {
		if f.key == key {
			return "a number " + f.allowed()
		}
	}
	return "of another type"
}

// unknown complains of the first key that no figure has, letter by letter, which the TOML
// library would pass if only the case differs.
func unknown(lines map[string]int) error {
	known := []string{"like"}
	for _, f := range A().fields() {
		known = append(known, f.key)
	}
	known = append(known, "blade")
	worst, at := "", 0
	for key, line := range lines {
		if !slices.Contains(known, key) && (at == 0 || line < at || line == at && key < worst) {
			worst, at = key, line
		}
	}
	if at == 0 {
		return nil
	}
	return fmt.Errorf("line %d: unknown key %q; allowed are %s", at, worst,
		strings.Join(near(worst, known), ", "))
}

// near lists the known keys that begin like the given one, or how the known ones begin.
func near(key string, known []string) []string {
	begin := func(s string) string { return s[:strings.IndexAny(s+"_", "_.")] }
	var some, starts []string
	for _, k := range known {
		if begin(k) == begin(strings.ToLower(key)) && k != "blade" {
			some = append(some, k)
		}
		starts = append(starts, begin(k)+"...")
	}
	if len(some) > 0 {
		return some
	}
	return slices.Compact(starts)
}

// keyLines gives the line of each key of a file that is valid TOML.
func keyLines(text []byte) map[string]int {
	lines := map[string]int{}
	var p unstable.Parser
	p.Reset(text)
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table, _ = keyOf(&p, e)
			table += "."
		case unstable.KeyValue:
			noteKey(&p, e, table, lines)
		}
	}
	return lines
}

// noteKey notes a key and, under an inline table, the keys in it.
func noteKey(p *unstable.Parser, e *unstable.Node, table string, lines map[string]int) {
	key, line := keyOf(p, e)
	lines[table+key] = line
	if v := e.Value(); v.Kind == unstable.InlineTable {
		for inner := v.Children(); inner.Next(); {
			noteKey(p, inner.Node(), table+key+".", lines)
		}
	}
}

// keyOf gives the dotted key of an expression and its line.
func keyOf(p *unstable.Parser, e *unstable.Node) (string, int) {
	var parts []string
	line := 0
	for k := e.Key(); k.Next(); {
		parts = append(parts, string(k.Node().Data))
		if line == 0 {
			line = p.Shape(k.Node().Raw).Start.Line
		}
	}
	return strings.Join(parts, "."), line
}
