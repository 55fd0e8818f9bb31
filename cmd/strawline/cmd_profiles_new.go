package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"strawline/probe/temp"
	"strawline/profiles"
	"strawline/profiles/steel"
)

// timeValue is a time of day: "18:00".
type timeValue struct {
	minutes int // after midnight
	given   bool
}

func (v *timeValue) Type() string { return "time" }

func (v *timeValue) String() string {
	if v == nil || !v.given {
		return ""
	}
	return fmt.Sprintf("%02d:%02d", v.minutes/60, v.minutes%60)
}

// Set reads the time of day.
func (v *timeValue) Set(s string) error {
	t, err := time.Parse("15:04", strings.TrimSpace(s))
	if err != nil {
		return fmt.Errorf("%q is no time of day: write it as 18:00", s)
	}
	v.minutes, v.given = t.Hour()*60+t.Minute(), true
	return nil
}

// newFlags are the options of `profiles new`.
type newFlags struct {
	steel    string
	thick    lengthValue
	use      wordValue
	want     hrcValue
	quenched hrcValue
	by       timeValue
	save     bool
	json     bool
}

const newLong = `Makes a temper profile for a steel, a thickness and a use, with the reason for each
number, cautions where a range is left, and another way where the wish cannot be had.
It prints the profile; --save puts it into your profiles folder.

  strawline profiles new --steel 1084 --thick 3mm --use kitchen
  strawline profiles new --steel 5160 --thick 6mm --use chopper --want 57HRC --by 18:00`

func newProfilesNew(h *host) *cobra.Command {
	f := newFlags{use: wordValue{allowed: steel.Uses()}}
	cmd := &cobra.Command{
		Use:   "new",
		Short: "make a temper profile for a steel, a thickness and a use",
		Long:  newLong,
		Args:  exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			switch {
			case f.steel == "":
				return usage("--steel is missing: strawline steel list has them")
			case !f.thick.given:
				return usage("--thick is missing: 4mm, 0.16in or 3/16in")
			case f.use.word == "":
				return usage("--use is missing: %s", strings.Join(steel.Uses(), ", "))
			}
			return h.profilesNew(cmd, &f)
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&f.steel, "steel", "", "the steel, as strawline steel list names it")
	fs.Var(&f.thick, "thick", "the blade's thickness: 4mm, 0.16in or 3/16in")
	fs.Var(&f.use, "use", "what it is for: "+strings.Join(steel.Uses(), ", "))
	fs.Var(&f.want, "want", "the hardness wanted, such as 60HRC (by the use unless given)")
	fs.Var(&f.quenched, "quenched", "the hardness measured after the quench, such as 65HRC")
	fs.Var(&f.by, "by", "the time of day when the oven is to be hot, such as 18:00")
	fs.BoolVar(&f.save, "save", false, "put the profile into your profiles folder")
	addJSON(cmd, &f.json)
	return cmd
}

// newAnswer is the answer of `profiles new --json`.
type newAnswer struct {
	Profile  *profiles.Profile `json:"profile"`
	TOML     string            `json:"toml"`
	File     string            `json:"file,omitempty"`
	HRC      float64           `json:"hrc"`
	LowHRC   float64           `json:"hrc_low"`
	HighHRC  float64           `json:"hrc_high"`
	Reasons  []string          `json:"reasons"`
	Cautions []string          `json:"cautions"`
	Instead  string            `json:"instead,omitempty"`
	StartBy  string            `json:"start_by,omitempty"`
}

func (h *host) profilesNew(cmd *cobra.Command, f *newFlags) error {
	s, err := h.steel(cmd, f.steel)
	if err != nil {
		return err
	}
	a, err := steel.Wish{Steel: s, ThickMM: f.thick.mm, Use: f.use.word, Want: f.want.hrc,
		Quenched: f.quenched.hrc}.Advise()
	if err != nil {
		return &fault{code: exitData, did: "make a profile for", to: s.Name, wrong: err}
	}
	start, why := f.startBy(a.Profile)
	if why != "" {
		a.Reasons = append(a.Reasons, why)
		a.TOML = "# why: " + why + "\n" + a.TOML
	}
	file := ""
	if f.save {
		if file, err = h.saveProfile(a.Profile.Name, a.TOML); err != nil {
			return err
		}
	}
	if f.json {
		answer := newAnswer{Profile: a.Profile, TOML: a.TOML, File: file, Reasons: a.Reasons,
			Cautions: append([]string{}, a.Cautions...), Instead: a.Instead, StartBy: start}
		answer.HRC, answer.LowHRC, answer.HighHRC = a.Estimate.Rounded()
		return h.printJSON(answer)
	}
	if err := h.print(a.TOML); err != nil || file == "" {
		return err
	}
	return h.print("# saved: " + file + "\n")
}

// spare is by how much an oven may be slower than the plan before it is late; an assumption.
const spare = 10 * time.Minute

// startBy says when to start the first ramp so that the oven is hot in time, and why then.
func (f *newFlags) startBy(p *profiles.Profile) (start, why string) {
	if !f.by.given {
		return "", ""
	}
	takes := profiles.Lengths(p.Steps)[0] + spare
	minutes := int((takes + time.Minute - 1) / time.Minute)
	at := timeValue{minutes: ((f.by.minutes-minutes)%1440 + 1440) % 1440, given: true}
	return at.String(), fmt.Sprintf("start by %s to be hot by %s: an oven that heats %s a minute "+
		"from %s, and %s to spare; a slow oven needs longer", &at, &f.by, perMinute(p.Unit),
		profiles.Room.Text(temp.Fahrenheit, 0), profiles.SpanText(spare))
}

// saveProfile writes a new file into the user's profiles folder, never over an old one.
func (h *host) saveProfile(name, text string) (string, error) {
	folder := h.profileFolder()
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return "", fileFault("make", folder, err)
	}
	file := filepath.Join(folder, name+".toml")
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		bad := fileFault("write", file, err)
		if errors.Is(err, fs.ErrExist) {
			bad.help = "take it away first, or keep the printed one under another name"
		}
		return "", bad
	}
	_, err = f.WriteString(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return "", errors.Join(fileFault("write", file, err), os.Remove(file))
	}
	return file, nil
}
