package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"strawline/control/shop"
	"strawline/probe/temp"
)

// referenceTyped is the word for a reference that a person reads.
const referenceTyped = "typed"

// stayUsual is how long a live survey stays; our own.
const stayUsual = 30 * time.Minute

// surveyFlags are the options of `probes survey`.
type surveyFlags struct {
	shop      string
	reference string
	within    deltaValue
	stay      spanValue // --for
	set       tempValue
	from      string
	channel   int
	since     spanValue
	until     spanValue
	door      spanValue
	last      bool
	plain     bool
	json      bool
}

func (f *surveyFlags) register(fs *pflag.FlagSet) {
	f.stay = spanValue{d: stayUsual}
	fs.StringVar(&f.shop, "shop", "", "the shop file; unless given, shop.toml in the "+
		"configuration folder")
	fs.StringVar(&f.reference, "reference", "", "the probe that lies where the blade will, or "+
		"typed for a thermometer that you read")
	fs.Var(&f.within, "within", "how far the reference may be off: 1C; its class says it unless given")
	fs.Var(&f.stay, "for", "how long the stay at the heat is watched, 10m or more")
	fs.Var(&f.set, "set", "the heat that was set; unless given, what the oven's probe says")
	fs.StringVar(&f.from, "from", "", "compute it from this run file instead")
	fs.IntVar(&f.channel, "channel", 0, "with --from: the reference's channel; found by its use "+
		"unless given")
	fs.Var(&f.since, "since", "with --from: when the stay begins on the run's clock; the later "+
		"half of the longest soak unless given")
	fs.Var(&f.until, "until", "with --from and --since: when it ends")
	fs.Var(&f.door, "door", "with --from: when the door was opened on the run's clock; a note "+
		"that begins with door unless given")
	fs.BoolVar(&f.last, "last", false, "only say what the last check was")
	fs.BoolVar(&f.plain, "plain", false, "lines of text: no line is written over")
	fs.BoolVar(&f.json, "json", false, "answer with one JSON object")
}

func (f *surveyFlags) check() error {
	switch {
	case f.last && (f.from != "" || f.reference != ""):
		return usage("--last only says what was found; leave the rest out")
	case f.last:
		return nil
	case f.from == "" && (f.channel != 0 || f.since.given || f.until.given || f.door.given):
		return usage("--channel, --since, --until and --door are for --from")
	case f.since.given != f.until.given:
		return usage("--since and --until belong together")
	case f.since.given && f.until.d <= f.since.d:
		return usage("--until %v is not after --since %v", f.until.d, f.since.d)
	case f.channel < 0 || f.channel > shop.MaxChannel:
		return usage("--channel %d is not from 1 to %d", f.channel, shop.MaxChannel)
	case f.from == "" && f.reference == "":
		return usage("say what is held against the oven: --reference PROBE, or --reference typed")
	case f.reference == referenceTyped && f.from != "":
		return usage("a run file has no typed reference")
	case f.reference == referenceTyped && !f.within.given:
		return usage("say how far your thermometer may be off: --within 1C")
	case f.stay.d < surveyLeast:
		return usage("--for %v is less than %v, which says nothing of an oven's swing", f.stay.d,
			surveyLeast)
	}
	return nil
}

func newProbesSurvey(h *host) *cobra.Command {
	var f surveyFlags
	cmd := &cobra.Command{
		Use:   "survey OVEN",
		Short: "find how far an oven is off where the blade lies, by a reference",
		Long: "Survey reads only: the oven is held by its own thermostat, or by a run, whose file\n" +
			"--from then takes. Lay the reference where the blade will lie and let the oven come\n" +
			"to rest at the tempering heat.\n\n" +
			"Offset is the mean of the oven's corrected reading less the reference. Swing is from\n" +
			"the lowest to the highest mean of 10 s at the reference. Recovery is from opening the\n" +
			"door until the reference is within 1 °C of its swing again and stays for a minute.\n" +
			"Spread is between the means of three or more probes. The result is stored beside the\n" +
			"shop file; --last says it again. It is no certificate.",
		Args: exactly("the oven"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(); err != nil {
				return err
			}
			return h.survey(cmd.Context(), &f, args[0])
		},
	}
	f.register(cmd.Flags())
	return cmd
}

func (h *host) survey(ctx context.Context, f *surveyFlags, name string) error {
	files, err := h.shopFiles(f.shop)
	if err != nil {
		return err
	}
	oven, err := files.oven(name)
	if err != nil {
		return err
	}
	clock := realClock()
	if f.last {
		return h.lastCheck(f, files, oven, today(clock))
	}
	ctx, release := signals(ctx)
	defer release()
	k := &talk{h: h, ctx: ctx, clock: clock, typed: h.typedLines(ctx),
		over: !f.plain && h.screened()}
	defer k.leave()
	s := &surveying{talk: k, f: f, files: files, oven: oven, open: func(b *shop.Board) (*ear, error) {
		open, cfg, err := wire(b)
		if err != nil {
			return nil, err
		}
		return listenTo(open, cfg), nil
	}}
	return s.run()
}

// surveying is one survey.
type surveying struct {
	*talk
	f     *surveyFlags
	files *shopFiles
	oven  *shop.Oven
	open  opensEar

	air, ref  *tip
	more      []*tip
	in        surveyed
	against   string     // what the oven was held against
	within    temp.Delta // how far that may be off
	by        string     // who says so
	steps     temp.Delta // of both readings' resolutions, plus or minus
	of        string     // the run that was recorded, "" live
	began     time.Time  // when it began; zero live
	simulated bool
}

func (s *surveying) run() error {
	var err error
	if s.f.from != "" {
		err = s.recorded()
	} else {
		err = s.live()
	}
	if err != nil {
		return err
	}
	if s.f.set.given {
		s.in.Set = &s.f.set.c
	}
	got, err := sums(s.in)
	if err != nil {
		return &fault{code: exitData, did: "survey", to: s.oven.Name, wrong: err,
			help: "nothing was written"}
	}
	return s.finish(got)
}

// live reads the boards through the stay and the door.
func (s *surveying) live() error {
	if err := s.choose(); err != nil {
		return err
	}
	if err := s.listen(s.files.shop, s.open); err != nil {
		return err
	}
	s.say("Lay the reference where the blade will lie, its tip free of the tray, close the door " +
		"and let the oven come to rest at the tempering heat: half an hour at least.")
	if s.in.Hand {
		s.say("Read your thermometer every few minutes and type what it shows, with its unit.")
	}
	if _, err := s.ask("Press Enter when the oven is at rest; the stay of %v begins.",
		s.f.stay.d); err != nil {
		return err
	}
	start := s.clock.Now()
	s.in.From = start
	if err := s.gather(func(now time.Duration) bool { return now-start >= s.f.stay.d }); err != nil {
		return err
	}
	s.in.To = s.clock.Now()
	if s.in.Hand {
		return nil
	}
	line, err := s.ask("Now open the door for about 15 s and close it. Type door as you open it, " +
		"or press Enter to leave the recovery out:")
	if err != nil || line != "door" {
		return err
	}
	s.in.Door = s.clock.Now()
	const most = 30 * time.Minute
	return s.gather(func(now time.Duration) bool {
		got, err := sums(s.in)
		return err != nil || got.Recovery > 0 || now-s.in.Door >= most
	})
}

// choose finds the probes.
func (s *surveying) choose() error {
	probes, _, err := s.files.probesOf(s.oven)
	if err != nil {
		return err
	}
	taken := map[string]bool{s.f.reference: true}
	for _, p := range probes {
		if p != nil && p.Use == shop.OvenAir && s.has(p.Name) && s.air == nil {
			s.air = s.tipOf(p)
			taken[p.Name] = true
		}
	}
	if s.air == nil || s.f.reference == s.air.name {
		return &fault{code: exitConfig, did: "survey", to: s.oven.Name, wrong: fmt.Errorf(
			"the reference is to be another probe than the oven's own")}
	}
	s.tips = []*tip{s.air}
	if s.f.reference == referenceTyped {
		s.in.Hand, s.against = true, "a thermometer read by hand"
	} else {
		p := s.files.shop.Probe(s.f.reference)
		if p == nil {
			return &fault{code: exitConfig, did: "find", to: "the probe " + s.f.reference + " in " +
				s.files.path, wrong: errors.New("there is none of that name")}
		}
		s.ref, s.against = s.tipOf(p), p.Name
		s.tips = append(s.tips, s.ref)
	}
	for _, name := range s.oven.Probes {
		if p := s.files.shop.Probe(name); p != nil && !taken[name] {
			s.more = append(s.more, s.tipOf(p))
		}
	}
	s.tips = append(s.tips, s.more...)
	s.in.More = make([][]mark, len(s.more))
	return nil
}

func (s *surveying) has(name string) bool {
	for _, n := range s.oven.Probes {
		if n == name {
			return true
		}
	}
	return false
}

func (s *surveying) tipOf(p *shop.Probe) *tip {
	t := tipOf(p)
	t.correct = s.files.value(p)
	return t
}

// gather takes readings until enough, or the word end.
func (s *surveying) gather(enough func(now time.Duration) bool) error {
	every := time.Minute
	if s.over {
		every = time.Second
	}
	typed := s.typed
	latest := map[*tip]temp.C{}
	begun := s.clock.Now()
	for shown := begun; ; {
		select {
		case <-s.ctx.Done():
			return s.ended()
		case line, ok := <-typed:
			if !ok {
				typed = nil
			} else if s.hear(line) {
				return nil
			}
		default:
		}
		for _, r := range s.look() {
			if r.Good() {
				latest[r.tip] = r.tip.correct.Correct(r.Hot)
				s.take(r.tip, mark{r.At, latest[r.tip]})
			}
		}
		now := s.clock.Now()
		if now-shown >= every {
			shown = now
			text := fmt.Sprintf("  %v:", (now - begun).Round(time.Second))
			for _, t := range s.tips {
				text += fmt.Sprintf(" %s %s", t.name, latest[t].Text(s.files.shop.Unit, 1))
			}
			s.progress("%s", text)
		}
		if enough(now) {
			s.clear()
			return nil
		}
	}
}

// hear takes a typed line; the word end ends it.
func (s *surveying) hear(line string) bool {
	switch {
	case line == "end":
		return true
	case line == "":
	case !s.in.Hand:
		s.say("%q is not known: type end to end it here", line)
	default:
		c, _, err := temp.Parse(line)
		if err != nil {
			s.say("%v", err)
			break
		}
		s.in.Reference = append(s.in.Reference, mark{s.clock.Now(), c})
	}
	return false
}

// take puts a corrected reading where it belongs.
func (s *surveying) take(t *tip, m mark) {
	switch t {
	case s.air:
		s.in.Oven = append(s.in.Oven, m)
	case s.ref:
		s.in.Reference = append(s.in.Reference, m)
	default:
		for i, other := range s.more {
			if t == other {
				s.in.More[i] = append(s.in.More[i], m)
			}
		}
	}
}
