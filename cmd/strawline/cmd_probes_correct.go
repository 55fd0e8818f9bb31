package main

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"strawline/control/keeper"
	"strawline/control/shop"
	"strawline/probe"
	"strawline/probe/fixed"
	"strawline/probe/port"
	"strawline/probe/temp"
	"strawline/probe/thermocouple"
)

// How long readings must stand still and may take for it; our own. The span is longer than the
// time constant of a sheathed probe in water or metal.
const (
	steadyUsual = 30 * time.Second
	steadyLeast = 3 * time.Second
	steadyMost  = 10 * time.Minute
	waitUsual   = 10 * time.Minute
	waitMost    = 12 * time.Hour
)

// correctFlags are the options of `probes correct`.
type correctFlags struct {
	shop      string
	port      string
	channel   int
	typ       string
	against   string
	height    string
	pressure  string
	reference string
	within    deltaValue
	steady    spanValue
	wait      spanValue
	replace   bool
	plain     bool
	json      bool
}

func (f *correctFlags) register(fs *pflag.FlagSet) {
	f.steady, f.wait = spanValue{d: steadyUsual}, spanValue{d: waitUsual}
	fs.StringVar(&f.shop, "shop", "", "the shop file; unless given, shop.toml in the "+
		"configuration folder")
	fs.StringVar(&f.port, "port", "", "the serial port of a board of our line protocol, in the "+
		"place of the shop file's board")
	fs.IntVar(&f.channel, "channel", 1, "with --port: the probe's channel, unless the shop file "+
		"has the probe")
	fs.StringVar(&f.typ, "type", "K", "with --port: the thermocouple type, unless the shop file "+
		"has the probe")
	fs.StringVar(&f.against, "against", "", "ice, boiling, a metal such as tin, reference or "+
		"thermometer; asked for unless given")
	fs.StringVar(&f.height, "height", "", "for boiling: how high above the sea, 420m or 1380ft")
	fs.StringVar(&f.pressure, "pressure", "", "for boiling: what a barometer in the shop shows, "+
		"985hPa, 29.1inHg or 98.5kPa")
	fs.StringVar(&f.reference, "reference", "", "for reference: which probe, where the shop file "+
		"has several")
	fs.Var(&f.within, "within", "how far the reference or the thermometer may be off: 1C")
	fs.Var(&f.steady, "steady", "how long the readings must stand still, 3s to 10m")
	fs.Var(&f.wait, "wait", "how long to wait for that")
	fs.BoolVar(&f.replace, "replace", false, "begin anew: drop the points found before")
	fs.BoolVar(&f.plain, "plain", false, "lines of text: no line is written over")
	fs.BoolVar(&f.json, "json", false, "answer with one JSON object")
}

func (f *correctFlags) check() error {
	switch {
	case f.steady.d < steadyLeast || f.steady.d > steadyMost:
		return usage("--steady %v is not from %v to %v", f.steady.d, steadyLeast, steadyMost)
	case f.wait.d < f.steady.d || f.wait.d > waitMost:
		return usage("--wait %v is not from --steady, %v, to %v", f.wait.d, f.steady.d, waitMost)
	case f.channel < 1 || f.channel > shop.MaxChannel:
		return usage("--channel %d is not from 1 to %d", f.channel, shop.MaxChannel)
	case f.height != "" && f.pressure != "":
		return usage("--height and --pressure are two ways to one figure: the pressure is the " +
			"better one")
	}
	return nil
}

func newProbesCorrect(h *host) *cobra.Command {
	var f correctFlags
	cmd := &cobra.Command{
		Use:   "correct PROBE",
		Short: "find what a probe is off, against ice, boiling water, a metal or a reference",
		Long: "Correct walks through one check of a probe: what to make, when the readings stand\n" +
			"still, what they are off and how sure that is. It writes the correction into\n" +
			"found.toml after a question; the readings themselves stay as they are. One point\n" +
			"corrects everywhere by the same; a second one, far from it, corrects the slope.",
		Args: exactly("the probe"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(); err != nil {
				return err
			}
			return h.correct(cmd.Context(), &f, args[0])
		},
	}
	f.register(cmd.Flags())
	return cmd
}

func (h *host) correct(ctx context.Context, f *correctFlags, name string) error {
	files, err := h.correctFiles(f)
	if err != nil {
		return err
	}
	ctx, release := signals(ctx)
	defer release()
	k := &talk{h: h, ctx: ctx, clock: realClock(), typed: h.typedLines(ctx),
		over: !f.plain && h.screened()}
	c := &correcting{talk: k, f: f, files: files, open: f.open}
	defer k.leave()
	return c.walk(name)
}

// correctFiles reads the shop file. With a port none is needed.
func (h *host) correctFiles(f *correctFlags) (*shopFiles, error) {
	files, err := h.shopFiles(f.shop)
	var bad *fault
	if f.port == "" || f.shop != "" || !errors.As(err, &bad) || bad.code != exitNoInput {
		return files, err
	}
	files = &shopFiles{path: h.shopPath(""), shop: &shop.Shop{}}
	if files.found, err = shop.NewStore(shop.FoundPath(files.path)).Load(); err != nil {
		return nil, &fault{code: exitData, wrong: err}
	}
	return files, nil
}

// open makes the ear of a board; nil is the one behind --port where no shop file has it.
func (f *correctFlags) open(b *shop.Board) (*ear, error) {
	if b == nil {
		return listenTo(port.OpenSerial(f.port, baud), port.Config{Name: f.port}), nil
	}
	at := *b
	if f.port != "" {
		at.Port = f.port
	}
	open, cfg, err := wire(&at)
	if err != nil {
		return nil, err
	}
	return listenTo(open, cfg), nil
}

// correcting is one walk.
type correcting struct {
	*talk
	f     *correctFlags
	files *shopFiles
	open  opensEar
	tip   *tip
	ref   *tip        // another probe of the shop as the reference, else nil
	point fixed.Point // what the probe is held against
	typed bool        // the reference is a thermometer that a person reads
}

// walk goes through all the steps.
func (c *correcting) walk(name string) error {
	if err := c.probes(name); err != nil {
		return err
	}
	if err := c.choose(); err != nil {
		return err
	}
	if err := c.listen(c.files.shop, c.open); err != nil {
		return err
	}
	if err := c.ready(); err != nil {
		return err
	}
	seen, err := c.collect(c.f.steady.d, c.f.wait.d)
	if err != nil {
		return err
	}
	if err := c.settle(seen); err != nil {
		return err
	}
	m := seen[c.tip]
	if err := nonsense(m, c.point.Is); err != nil {
		return &fault{code: exitData, did: "correct", to: name, wrong: err, help: "nothing was written"}
	}
	return c.finish(m)
}

// probes finds the probe that is corrected.
func (c *correcting) probes(name string) error {
	p := c.files.shop.Probe(name)
	if p == nil && c.f.port == "" {
		var names []string
		for i := range c.files.shop.Probes {
			names = append(names, c.files.shop.Probes[i].Name)
		}
		f := &fault{code: exitConfig, did: "find", to: "the probe " + name + " in " + c.files.path,
			wrong: errors.New("there is none of that name")}
		if near := nearest(name, names); near != "" {
			f.help = "did you mean " + near + "?"
		}
		return f
	}
	if p == nil {
		typ, err := thermocouple.ParseType(c.f.typ)
		if err != nil {
			return usage("--type: %w", err)
		}
		c.tip = &tip{name: name, channel: c.f.channel, typ: typ}
		c.tips = []*tip{c.tip}
		return nil
	}
	c.tip = tipOf(p)
	c.tips = []*tip{c.tip}
	return nil
}

// tipOf makes the tip of a probe of the shop file.
func tipOf(p *shop.Probe) *tip {
	typ, err := thermocouple.ParseType(p.Type)
	if err != nil {
		typ = thermocouple.K // not reached: the shop file was checked
	}
	return &tip{name: p.Name, board: p.Board, channel: p.Channel, typ: typ, class: p.Class}
}

// collect reads until every tip's readings stand still.
func (k *talk) collect(span, wait time.Duration) (map[*tip]stillness, error) {
	start := k.clock.Now()
	at := map[*tip]*still{}
	for _, t := range k.tips {
		at[t] = &still{span: span}
	}
	every := 10 * time.Second
	if k.over {
		every = time.Second
	}
	for shown := start; ; {
		if k.ctx.Err() != nil {
			return nil, k.ended()
		}
		for _, r := range k.look() {
			at[r.tip].add(r.Reading)
		}
		got, moving := map[*tip]stillness{}, false
		for t, s := range at {
			m, enough := s.now()
			got[t] = m
			moving = moving || !enough || m.why() != ""
		}
		if !moving {
			k.clear()
			return got, nil
		}
		now := k.clock.Now()
		if now-start >= wait {
			return nil, k.restless(at, span, wait)
		}
		if now-shown >= every {
			shown = now
			k.progress("  %3.0f s: %s", (now - start).Seconds(), k.state(at))
		}
	}
}

// state says in one line how the readings are.
func (k *talk) state(at map[*tip]*still) string {
	var parts []string
	for _, t := range k.tips {
		m, _ := at[t].now()
		said := fmt.Sprintf("%s, moved %s in %.0f s", two(m.Mean), m.Moved.Text(temp.Celsius, 1),
			m.Over.Seconds())
		if fault := at[t].fault; fault != "" {
			said = fault
		} else if m.N == 0 {
			said = "no reading yet"
		}
		parts = append(parts, t.name+" "+said)
	}
	return strings.Join(parts, "; ")
}

// restless is the fault of readings that never stood still.
func (k *talk) restless(at map[*tip]*still, span, wait time.Duration) error {
	for _, t := range k.tips {
		m, enough := at[t].now()
		why := m.why()
		switch {
		case at[t].fault != "":
			why = "the last reading was: " + at[t].fault
		case !enough && why == "":
			why = fmt.Sprintf("%d good readings without a hole over %.0f s; at least %d over %v "+
				"are needed", m.N, m.Over.Seconds(), stillLeast, span)
		}
		if why == "" {
			continue
		}
		return &fault{code: exitTemporary, did: "wait for steady readings of", to: t.name,
			wrong: fmt.Errorf("not within %v: %s", wait, why),
			help: "nothing was written; stir, shield it from draught, or give it more with " +
				"--wait and --steady"}
	}
	return &fault{code: exitTemporary, wrong: errors.New("the readings did not stand still at the " +
		"same time"), help: "nothing was written"}
}

// write puts the correction into found.toml, unless something else was put there meanwhile.
func (c *correcting) write(v shop.Correction) error {
	store := shop.NewStore(shop.FoundPath(c.files.path))
	was := shop.Get(c.files.found.Corrections, c.tip.name)
	err := store.Update(func(f *shop.Found) error {
		if !reflect.DeepEqual(shop.Get(f.Corrections, c.tip.name), was) {
			return errors.New("the correction there was changed while you measured")
		}
		f.Corrections = shop.Put(f.Corrections, shop.Entry[shop.Correction]{Of: c.tip.name,
			Date: v.Date, Value: v})
		return nil
	})
	if err != nil {
		return &fault{code: exitCannotMake, did: "write the correction of", to: c.tip.name,
			wrong: err, help: "nothing was written"}
	}
	return nil
}

// today is the day on the wall.
func today(clock keeper.Clock) shop.Date { return shop.DateOf(clock.Wall()) }

// probePoint rounds a point to what is known of it.
func probePoint(m stillness, is temp.C) probe.Point {
	return probe.Point{Reads: round2(m.Mean), Is: round2(is)}
}
