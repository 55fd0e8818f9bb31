package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/probe/port"
	"strawline/probe/sim"
	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/tui"
)

// What a tuning test takes where the person did not say. All are our choice.
const (
	tuneAt   = temp.C(200)    // the heat of a temper
	tuneRoom = temp.Delta(30) // that the test's heat stays below the oven's limit
	tuneOver = temp.Delta(50) // above the test's heat at which its own limit is
	tuneMost = 3 * time.Hour
	tuneBand = temp.Delta(20) // of the stay at the heat: the swings are meant
)

// tuneOven makes a test on an oven, real or simulated.
func (h *host) tuneOven(ctx context.Context, f *tuneFlags) error {
	if os.Geteuid() == 0 && !f.asRoot && !f.invented() {
		return rootRefused("tune")
	}
	s := &session{h: h, plain: f.plain || f.json || !h.screened(), mute: f.json,
		verdict: func(path string) (tui.Tuned, error) { return tunedOf(path) }}
	clean, err := h.tuneShop(f, s)
	if err != nil {
		return err
	}
	defer clean()
	f.plan(&s.cfg)
	if err := control.CheckTest(s.cfg.Test, s.cfg.Profile, s.cfg.NoHeater,
		s.cfg.Contactor != nil); err != nil {
		return &fault{code: exitConfig, did: "start", to: "the tuning test", wrong: err}
	}
	s.cfg.Out, s.cfg.Numbered, err = h.outPath(f.out, s.cfg.Run, s.cfg.Clock.Wall())
	if err != nil {
		return err
	}
	if !f.invented() && !f.yes {
		if err := h.mayHeat(s.cfg); err != nil {
			return err
		}
	}
	if err := s.run(ctx); err != nil {
		return err
	}
	return h.tuneEnd(f, s)
}

// tuneEnd says what the test came to.
func (h *host) tuneEnd(f *tuneFlags, s *session) error {
	last := s.result.Last
	if last.Test != control.TestDone {
		why := last.TestText
		if why == "" || last.Test != control.TestRefused {
			why = s.result.Why
		}
		return &fault{code: exitTemporary, did: "tune", to: s.cfg.Oven,
			wrong: errors.New("no gains: " + why), help: "the run file is " + s.cfg.Out}
	}
	info, records, err := readRun(s.cfg.Out)
	if err != nil {
		return err
	}
	c, err := conclude(info, records)
	if err != nil {
		return &fault{code: exitData, did: "find a model in", to: s.cfg.Out, wrong: refused(err)}
	}
	c.path = s.cfg.Out
	if err := h.tuned(f, c); err != nil || f.keeps() || f.json {
		return err
	}
	return h.whatToKeep(f, c, s.plain)
}

// whatToKeep asks which gains to keep, or says how to, once they were printed.
func (h *host) whatToKeep(f *tuneFlags, c concluded, plain bool) error {
	switch {
	case c.info.Simulated && plain:
		return nil
	case c.info.Simulated:
		return h.print("nothing is kept: strawline tune --from " + c.path + " --found demo.toml " +
			"keeps it for strawline demo --found demo.toml\n")
	case plain || f.port != "":
		return h.print("nothing is kept: strawline tune --from " + c.path + " --keep" + shopOption(f) +
			" keeps the recommended gains\n")
	}
	fmt.Fprint(h.err, "Keep which? recommended, bolder or calmer; anything else keeps none: ")
	line, _ := typedLine(h.in)
	if f.take.Set(strings.TrimSpace(line)) != nil {
		return h.print("nothing is kept; strawline tune --from " + c.path + " --keep" + shopOption(f) +
			" does it later\n")
	}
	path, err := h.keepTuned(f, c)
	if err != nil {
		return err
	}
	return h.print(keptWords(f, path) + "\n")
}

// tuneShop says what the test is held with.
func (h *host) tuneShop(f *tuneFlags, s *session) (clean func(), err error) {
	clean = func() {}
	if !f.invented() {
		run := runFlags{port: f.port, shop: f.shop, oven: f.oven, pace: paceValue{max: true}}
		cfg, after, err := h.runShop(&run, "tune")
		if err != nil {
			return nil, err
		}
		s.cfg, s.after = cfg, after
		if f.port == "" {
			s.calls = h.shopPath(f.shop)
		}
		s.cfg.Clock = realClock()
		return clean, nil
	}
	oven, name, err := readOven(f.oven)
	if err != nil {
		return nil, err
	}
	board := sim.New(sim.Config{Plant: oven, Seed: f.seed.n, Faults: f.faults})
	open, transport, unlink, err := demoLink(board, f.pace.max)
	if err != nil {
		board.Close()
		return nil, err
	}
	s.transport = transport
	s.cfg = keeper.Config{Open: open, Port: port.Config{Name: "the simulated board"},
		Gains: control.CautiousGains(), Oven: name, Limit: demoLimit, Roles: []string{"oven air"},
		Clock: realClock(), Sim: &keeper.Simulation{Board: board, Oven: oven, Seed: f.seed.n,
			Pace: f.pace.factor, Person: keeper.Away}}
	return func() { board.Close(); unlink() }, nil
}

// plan makes the test's profile: to its heat, and there until it is done.
func (f *tuneFlags) plan(cfg *keeper.Config) {
	if f.limit.given {
		cfg.Limit = f.limit.c
	}
	at, most := min(tuneAt, cfg.Limit.Add(-tuneRoom)), tuneMost
	cfg.Unit = temp.Celsius
	if f.at.given {
		at, cfg.Unit = f.at.c, f.at.unit
	}
	if f.most.given {
		most = f.most.d
	}
	kind := control.TestColdStart
	if f.swing {
		kind = control.TestRelay
	}
	cfg.Run = "tune"
	if f.invented() {
		cfg.Run = "tune-simulated"
	}
	cfg.Test = &control.TestInfo{Kind: kind, TargetC: float64(at), MostS: most.Seconds()}
	cfg.Profile = profiles.Profile{Name: cfg.Run, Title: "tuning test at " + at.Text(cfg.Unit, 0),
		Unit: cfg.Unit, Limit: min(cfg.Limit, at.Add(tuneOver)), Longest: most + 4*time.Hour,
		Steps: []profiles.Step{{Kind: profiles.Ramp, To: at, Band: tuneBand},
			{Kind: profiles.Soak, To: at, For: most, Band: tuneBand}}}
}

// mayHeat says what will happen and goes on only at the whole word yes.
func (h *host) mayHeat(cfg keeper.Config) error {
	at := temp.C(cfg.Test.TargetC)
	if odd := cfg.Proofs.Odd(); odd != "" {
		fmt.Fprintf(h.err, "  look twice: %s\n", odd)
	}
	fmt.Fprintf(h.err, "This heats %s to %s; its limit is %s. Where the heat-up alone does not tell\n"+
		"how the oven answers, the heat then goes up and down by some degrees until two swings are\n"+
		"alike. It takes at most %s and ends with the heat off. Let the oven be empty and shut; stay\n"+
		"within reach, with the cut-out fitted. Begin? yes: ", cfg.Oven, at.Text(cfg.Unit, 0),
		cfg.Profile.Limit.Text(cfg.Unit, 0), profiles.SpanText(secs(cfg.Test.MostS)))
	f := &fault{code: exitTemporary, did: "heat", to: cfg.Oven, wrong: errors.New("not confirmed"),
		help: "nothing was heated"}
	line, err := typedLine(h.in)
	switch {
	case strings.TrimSpace(line) == "yes":
		return nil
	case err != nil && line == "":
		f.code, f.wrong = exitNoInput, errors.New("nobody answered the question")
		f.help = "nothing was heated; --yes answers beforehand"
	}
	return f
}

// typedLine reads one line and not a byte more: what follows is for the run.
func typedLine(r io.Reader) (string, error) {
	var line []byte
	one := make([]byte, 1)
	for len(line) < 200 {
		n, err := r.Read(one)
		if n == 1 && one[0] == '\n' {
			return string(line), nil
		}
		line = append(line, one[:n]...)
		if err != nil {
			return string(line), err
		}
	}
	return string(line), nil
}

// tunedOf gives a screen what the run file of a test that is done shows.
func tunedOf(path string) (tui.Tuned, error) {
	info, records, err := readRun(path)
	if err != nil {
		return tui.Tuned{}, err
	}
	c, err := conclude(info, records)
	if err != nil {
		return tui.Tuned{}, refused(err)
	}
	return tui.Tuned{Verdict: c.found, Rules: c.found.Table()}, nil
}

// shopOption is what names the shop file in a command, if it was named in this one.
func shopOption(f *tuneFlags) string {
	if f.shop == "" {
		return ""
	}
	return " --shop " + f.shop
}
