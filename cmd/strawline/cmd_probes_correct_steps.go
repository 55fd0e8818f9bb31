package main

import (
	"errors"
	"fmt"
	"strings"

	"strawline/control/shop"
	"strawline/probe/fixed"
	"strawline/probe/temp"
)

// The words for what a probe is held against, beside those of the metals.
const (
	againstIce         = "ice"
	againstBoiling     = "boiling"
	againstReference   = "reference"
	againstThermometer = "thermometer"
)

const sideBySide = "Tie the two tips together, in a hole of a metal block or in stirred water or " +
	"oil, away from the heat; both must have the same, and stay there."

// choose finds what the probe is held against: as the options say, or by questions.
func (c *correcting) choose() error {
	word, asked := c.f.against, c.f.against == ""
	if asked {
		c.menu()
	}
	for {
		if asked {
			var err error
			if word, err = c.ask("Against what?"); err != nil {
				return err
			}
		}
		again, err := c.choice(strings.ToLower(word))
		if err != nil || again == "" {
			return err
		}
		if !asked {
			return usage("--against: %s", again)
		}
		c.say("%s", again)
	}
}

func (c *correcting) menu() {
	var metals []string
	for _, p := range fixed.Metals() {
		metals = append(metals, fmt.Sprintf("%s %.0f °C", p.Name, float64(p.Is)))
	}
	c.say("Against what is %s held? Type the word.", c.tip.name)
	c.say("  ice          ice and water, 0 °C (32 °F)")
	c.say("  boiling      boiling water where you are")
	c.say("  a metal that melts: %s", strings.Join(metals, ", "))
	c.say("  reference    another probe of the shop file whose use is reference")
	c.say("  thermometer  one that you read yourself")
}

// choice takes the word; what is to be asked again it gives in a sentence.
func (c *correcting) choice(word string) (again string, err error) {
	switch word {
	case againstIce:
		c.point = fixed.Ice()
	case againstBoiling:
		return "", c.place()
	case againstReference:
		return "", c.reference()
	case againstThermometer:
		return "", c.thermometer()
	default:
		p, ok := fixed.Metal(word)
		if !ok {
			var words []string
			for _, m := range fixed.Metals() {
				words = append(words, m.Name)
			}
			words = append(words, againstIce, againstBoiling, againstReference, againstThermometer)
			again = fmt.Sprintf("no %q: there is %s", word, strings.Join(words, ", "))
			if near := nearest(word, words); near != "" {
				again += "; did you mean " + near + "?"
			}
			return again, nil
		}
		c.point = p
	}
	return "", nil
}

// place finds the boiling point where the person is.
func (c *correcting) place() error {
	height, pressure := c.f.height, c.f.pressure
	given := height != "" || pressure != ""
	if !given {
		c.say("Water boils by the air's pressure where you stand. Type what a barometer in the " +
			"shop shows (985hPa, 29.1inHg, 98.5kPa), not the weather report's, which is\n" +
			"reduced to the sea; or how high you are above the sea (420m, 1380ft).")
	}
	for {
		if !given {
			line, err := c.ask("Pressure or height?")
			if err != nil {
				return err
			}
			height, pressure = line, ""
			if _, err := fixed.ParseHeight(line); err != nil {
				height, pressure = "", line
			}
		}
		p, err := boilingAt(height, pressure)
		switch {
		case err == nil:
			c.point = p
			return nil
		case given:
			return usage("%w", err)
		}
		c.say("%v", err)
	}
}

func boilingAt(height, pressure string) (fixed.Point, error) {
	if height != "" {
		h, err := fixed.ParseHeight(height)
		if err != nil {
			return fixed.Point{}, err
		}
		return fixed.BoilingAtHeight(h)
	}
	p, err := fixed.ParsePressure(pressure)
	if err != nil {
		return fixed.Point{}, err
	}
	return fixed.Boiling(p)
}

// reference finds the other probe.
func (c *correcting) reference() error {
	var found []string
	for i := range c.files.shop.Probes {
		p := &c.files.shop.Probes[i]
		if p.Name != c.tip.name && (c.f.reference == p.Name ||
			c.f.reference == "" && p.Use == shop.Reference) {
			found = append(found, p.Name)
		}
	}
	switch {
	case len(found) == 0 && c.f.reference != "":
		return &fault{code: exitConfig, did: "find", to: "the probe " + c.f.reference + " in " +
			c.files.path, wrong: errors.New("there is no other one of that name")}
	case len(found) == 0:
		return &fault{code: exitConfig, did: "find", to: "a reference in " + c.files.path,
			wrong: errors.New("no other probe has the use reference"),
			help:  "say so there, or choose thermometer"}
	case len(found) > 1:
		return usage("the shop file has %d references; say which: --reference %s", len(found),
			found[0])
	}
	p := c.files.shop.Probe(found[0])
	c.ref = tipOf(p)
	if c.f.port != "" && c.ref.board != c.tip.board {
		return usage("--port is one board, and %s is on another", p.Name)
	}
	c.ref.correct = c.files.value(p)
	c.tips = append(c.tips, c.ref)
	c.point = fixed.Point{Name: againstReference, Full: "probe " + p.Name, How: sideBySide}
	return nil
}

// thermometer asks how far the person's own may be off.
func (c *correcting) thermometer() error {
	c.typed = true
	c.point = fixed.Point{Name: againstThermometer, Full: "a thermometer read by hand",
		How: sideBySide}
	for within := c.f.within; ; {
		if within.given {
			c.point.Within = within.d
			c.point.Source = "as you say"
			return nil
		}
		line, err := c.ask("How far may it be off, plus or minus, as its maker says (1C, 2F)?")
		if err != nil {
			return err
		}
		if err := within.Set(line); err != nil {
			c.say("%v", err)
		}
	}
}

// ready says what to make, and waits until it is made.
func (c *correcting) ready() error {
	p := c.point
	if p.Name == againstReference || c.typed {
		c.say("%s against %s.", c.tip.name, p.Full)
	} else {
		c.say("%s against %s: %s, %s.", c.tip.name, p.Full, two(p.Is), pm(p.Within))
		c.say("  (%s)", p.Source)
	}
	c.say("%s", p.How)
	for _, w := range p.Cautions {
		c.say("CAUTION: %s", w)
	}
	_, err := c.ask("Press Enter when the tip is in and the reading has come near.")
	if err == nil {
		c.say("Waiting until the readings stand still for %v.", c.f.steady.d)
	}
	return err
}

// settle finds what the probe should have read, where it was not known before.
func (c *correcting) settle(seen map[*tip]stillness) error {
	switch {
	case c.ref != nil:
		c.point.Is = c.ref.correct.Correct(seen[c.ref].Mean)
		within, by, ok := tolerance(c.ref.typ, c.ref.class, c.point.Is)
		switch {
		case c.f.within.given:
			within, by = c.f.within.d, "as you say"
		case !ok:
			return usage("no class says how far %s may be off at %s: say it with --within",
				c.ref.name, two(c.point.Is))
		}
		step := chipStep(c.ref.chip, seen[c.ref].Step)
		c.point.Within = doubtsOf(seen[c.ref], within, step).Here
		c.point.Source = by
	case c.typed:
		for {
			line, err := c.ask("What does your thermometer show now, with its unit?")
			if err != nil {
				return err
			}
			is, _, err := temp.Parse(line)
			if err == nil {
				c.point.Is = is
				return nil
			}
			c.say("%v", err)
		}
	}
	return nil
}
