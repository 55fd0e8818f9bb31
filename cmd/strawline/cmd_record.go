package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/probe/temp"
	"strawline/profiles/steel"
)

func newRecord(h *host) *cobra.Command {
	cmd := group("record", "say what a run did to its blade, and note what you measured after it")
	cmd.AddCommand(newRecordShow(h), newRecordNote(h))
	return cmd
}

// pastRun is a run file as `record` reads it.
type pastRun struct {
	path string
	info *control.Info
	fit  steel.Fit
	last control.Snapshot
	lost string
}

// pastRun reads a run file: a path, or the name of one in the folder of run files. Its dose is
// reckoned anew from its samples.
func (h *host) pastRun(run string) (*pastRun, error) {
	path := run
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) && filepath.Base(run) == run {
		path = filepath.Join(h.runsFolder(), strings.TrimSuffix(run, ".jsonl")+".jsonl")
	}
	file, err := runlog.Open(path)
	if err != nil {
		code := exitData
		if errors.Is(err, os.ErrNotExist) {
			code = exitNoInput
		} else if errors.Is(err, os.ErrPermission) {
			code = exitNoRight
		}
		return nil, &fault{code: code, wrong: err}
	}
	records, err := file.All()
	if err != nil {
		return nil, &fault{code: exitData, wrong: err}
	}
	v := control.NewView(file.Info)
	for _, r := range records {
		v.Apply(r)
	}
	r := &pastRun{path: path, info: &file.Info, last: v.Told(), fit: v.Fit(), lost: file.Tail.String()}
	return r, nil
}

func newRecordShow(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show RUN",
		Short: "the dose, the hardness and the gaps of a run, reckoned anew from its samples",
		Args:  exactly("the run file"),
		RunE: func(_ *cobra.Command, args []string) error {
			r, err := h.pastRun(args[0])
			if err != nil {
				return err
			}
			if asJSON {
				return h.printJSON(r.answer())
			}
			return h.print(r.text())
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

// recordAnswer is the answer of `record show --json`.
type recordAnswer struct {
	Run       string       `json:"run"`
	Simulated bool         `json:"simulated"`
	Ended     string       `json:"ended"` // why; "" if the file does not say
	Dose      control.Dose `json:"dose"`
	LowHRC    float64      `json:"hrc_low,omitempty"`
	HighHRC   float64      `json:"hrc_high,omitempty"`
	Gaps      int          `json:"gaps"`
	GapS      float64      `json:"gap_s"`
	Lost      string       `json:"lost,omitempty"`
}

func (r *pastRun) answer() recordAnswer {
	a := recordAnswer{Run: r.info.Run, Simulated: r.info.Simulated, Ended: r.last.Why,
		Dose: r.last.Dose, Gaps: r.last.Gaps, GapS: r.last.Gap.Seconds(), Lost: r.lost}
	o := &a.Dose
	for _, f := range []*float64{&o.P, &o.HottestC, &o.LikeC, &o.SoakC, &o.SameS, &o.HRC, &o.Band,
		&o.OverS, &o.Cost, &o.Bridged} {
		*f = *rounded(*f, 2)
	}
	if o.Known { // with no more digits than the band deserves
		o.HRC, a.LowHRC, a.HighHRC = steel.Estimate{HRC: o.HRC, Band: o.Band}.Rounded()
	}
	return a
}

func (r *pastRun) text() string {
	var text strings.Builder
	if r.info.Simulated {
		text.WriteString("SIMULATED ")
	}
	fmt.Fprintf(&text, "%s, %s\n", r.info.Run, r.info.Start.Format("2006-01-02 15:04"))
	u := temp.Celsius
	if r.info.Unit == "F" {
		u = temp.Fahrenheit
	}
	line := func(label, says string) {
		if says != "" {
			fmt.Fprintf(&text, "  %-9s %s\n", label, says)
		}
	}
	o := &r.last.Dose
	line("ended", r.last.Why)
	line("steel", o.Steel)
	equal := o.Equal(u)
	if same := o.Same(u); same != "" {
		equal += ", or " + same
	}
	line("dose", equal)
	line("by", o.By)
	line("hardness", o.Hardness())
	line("note", o.Note)
	line("caution", o.Caution)
	line("excursion", o.CostWords())
	if o.Measured > 0 {
		line("measured", fmt.Sprintf("%g HRC, noted during the run", o.Measured))
	}
	if r.last.Gaps > 0 {
		line("gaps", fmt.Sprintf("%d, %.0f s in all", r.last.Gaps, r.last.Gap.Seconds()))
	}
	line("model", r.model())
	line("lost", r.lost)
	line("verdict", o.Verdict)
	return text.String()
}

// model says what the modelled blade went by, and what a probe at the blade says of it.
func (r *pastRun) model() string {
	b := r.info.Blade
	switch {
	case b == nil || b.ThickMM <= 0:
		return ""
	case r.last.Dose.By == control.DoseMeasured:
		w, within, err := r.fit.Convection()
		if err != nil {
			return "no convection of this record: " + err.Error()
		}
		return fmt.Sprintf("the probe at the blade gives %.1f ± %.1f W/(m² K) of convection", w, within)
	case b.ConvectionW > 0:
		return fmt.Sprintf("convection %.1f W/(m² K), %s", b.ConvectionW, b.From)
	}
	return "convection as usual, from memory"
}

// noteFlags are the options of `record note`.
type noteFlags struct {
	hrc   bareHRC
	steel string
}

// bareHRC is a hardness whose unit the option's name has already said.
type bareHRC struct{ hrcValue }

// Set reads 60.5 or 60.5HRC.
func (v *bareHRC) Set(s string) error {
	if !strings.HasSuffix(strings.ToUpper(strings.TrimSpace(s)), "HRC") {
		s += "HRC"
	}
	return v.hrcValue.Set(s)
}

func newRecordNote(h *host) *cobra.Command {
	var f noteFlags
	cmd := &cobra.Command{
		Use:   "note RUN",
		Short: "keep a hardness that you measured, with the run's steel and dose",
		Long: "Note keeps a hardness that you measured after a run beside the run files, in\n" +
			"hardness.jsonl, with the steel and the dose of that run; the run file stays as it is.\n" +
			"A second note of the same run takes the place of the first. From three real runs on,\n" +
			"steel show and steel temper say how far this shop is from the table's curve. A\n" +
			"SIMULATED run never counts.",
		Args: exactly("the run file"),
		RunE: func(cmd *cobra.Command, args []string) error { return h.recordNote(cmd, &f, args[0]) },
	}
	cmd.Flags().Var(&f.hrc, "hrc", "the hardness measured: 60.5 or 60.5HRC")
	cmd.Flags().StringVar(&f.steel, "steel", "", "the steel, where the run named none")
	return cmd
}

func (h *host) recordNote(cmd *cobra.Command, f *noteFlags, run string) error {
	if !f.hrc.given {
		return usage("--hrc is missing, such as --hrc 60.5")
	}
	r, err := h.pastRun(run)
	if err != nil {
		return err
	}
	o := r.last.Dose
	switch {
	case o.Steel == "" && f.steel == "":
		return usage("the run named no steel; say which: --steel 1084")
	case o.Steel != "" && f.steel != "" && !strings.EqualFold(o.Steel, f.steel):
		return usage("the run's steel is %s", o.Steel)
	case o.Equal(temp.Celsius) == "":
		return &fault{code: exitData, did: "note", to: "a hardness after " + r.info.Run,
			wrong: errors.New("the run tempered nothing")}
	case f.steel != "":
		o.Steel = f.steel
	}
	s, err := h.steel(cmd, o.Steel)
	if err != nil {
		return err
	}
	m := measuredOf(r.info, o, f.hrc.hrc, realClock().Wall())
	m.Steel = s.Name
	if err := h.addMeasured(m); err != nil {
		return err
	}
	says := fmt.Sprintf("noted: %g HRC of %s", m.HRC, m.Steel)
	if o.Known {
		says += ", where the table has " + o.Hardness()
	}
	if m.Simulated {
		says += "; SIMULATED, so it does not count"
	}
	x, err := h.experienceOf(s)
	if err != nil {
		return err
	}
	if x != nil {
		says += "\n" + x.String()
	}
	return h.print(says + "\n")
}
