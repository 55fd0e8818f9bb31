package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"strawline/profiles/steel"
)

func newSteel(h *host) *cobra.Command {
	cmd := group("steel", "say what heat does to a steel, and where each figure comes from")
	cmd.AddCommand(newSteelList(h), newSteelShow(h), newSteelTemper(h))
	return cmd
}

// mostSteelBytes is the largest file of own steels that is read.
const mostSteelBytes = 1 << 20

// steelFile is where the user's own steels and mill certificates stand.
func (h *host) steelFile() string {
	return filepath.Join(filepath.Dir(h.profileFolder()), "steels.toml")
}

// ownSteels reads the user's own steels; none if there is no file.
func (h *host) ownSteels() ([]steel.Steel, error) {
	file := h.steelFile()
	f, err := os.Open(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fileFault("read", file, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostSteelBytes))
	if err != nil {
		return nil, fileFault("read", file, err)
	}
	own, err := steel.Parse(file, data)
	if err != nil {
		return nil, &fault{code: exitData, wrong: err}
	}
	return own, nil
}

// steel finds a steel by its name. A file of own steels that cannot be read does not hide the
// built-in ones, but it is said.
func (h *host) steel(cmd *cobra.Command, name string) (steel.Steel, error) {
	own, bad := h.ownSteels()
	s, is := steel.Find(name, own)
	switch {
	case is && bad != nil:
		h.warnSteels(cmd, bad)
		return s, nil
	case is:
		return s, nil
	case bad != nil:
		return s, bad
	}
	var names []string
	for _, s := range append(steel.List(), own...) {
		names = append(names, s.Name)
	}
	f := &fault{
		code: exitNoInput, did: "find", to: fmt.Sprintf("steel %q", name),
		wrong: errors.New("there is none of that name"), help: "strawline steel list has them",
	}
	if near := nearest(name, names); near != "" {
		f.help = "did you mean " + near + "?"
	}
	return s, f
}

// warnSteels says on the standard error why the own steels are not there.
func (h *host) warnSteels(cmd *cobra.Command, bad error) {
	fmt.Fprintf(h.err, "%s: %s\n", strings.ReplaceAll(cmd.CommandPath(), " ", ": "),
		asFault(bad).Error())
}

// steelLine is one steel in `steel list --json`.
type steelLine struct {
	Name  string `json:"name"`
	From  string `json:"from"` // "built in" or "file"
	Like  string `json:"like,omitempty"`
	Curve string `json:"curve,omitempty"`
	Note  string `json:"note,omitempty"`
	Unfit string `json:"unfit,omitempty"`
}

func newSteelList(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "list the steels that the program knows, and yours",
		Long: "Lists the built-in steels and those in strawline/steels.toml of your configuration\n" +
			"folder ($XDG_CONFIG_HOME, or ~/.config). A steel of yours looks like this:\n\n" +
			"  [[steel]]\n  name = \"1084-bar-2\"\n  like = \"1084\"\n" +
			"  source = \"mill certificate 7731\"\n  [steel.composition]\n  C = 0.86\n  Mn = 0.71\n\n" +
			"Further keys: normalise, harden, harden_range, temper_range, soak, quench,\n" +
			"as_quenched.",
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			own, bad := h.ownSteels()
			lines := steelLines(own)
			if asJSON {
				answer := struct {
					Steels  []steelLine   `json:"steels"`
					Refused []refusedLine `json:"refused_files"`
				}{lines, []refusedLine{}}
				if bad != nil {
					answer.Refused = append(answer.Refused, refusedLine{h.steelFile(),
						asFault(bad).Error()})
				}
				return h.printJSON(answer)
			}
			if bad != nil {
				h.warnSteels(cmd, bad)
			}
			return h.print(steelListText(lines))
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

func steelLines(own []steel.Steel) []steelLine {
	var lines []steelLine
	for i, s := range append(steel.List(), own...) {
		line := steelLine{Name: s.Name, From: "built in", Like: s.Base, Unfit: s.Unfit()}
		if i >= len(steel.List()) {
			line.From = "file"
		}
		if c, err := s.Curve(); err == nil {
			line.Curve, line.Note = c.Of, c.Note
		} else {
			line.Note = err.Error()
		}
		lines = append(lines, line)
	}
	return lines
}

func steelListText(lines []steelLine) string {
	width := 0
	for _, l := range lines {
		width = max(width, len(l.Name))
	}
	var text strings.Builder
	for _, l := range lines {
		says := l.Curve
		switch {
		case l.Unfit != "":
			says = l.Unfit
		case l.Curve == "" || strings.HasPrefix(l.Note, "no measurements"):
			says = l.Note
		}
		if l.From == "file" {
			says += " (yours)"
		}
		fmt.Fprintf(&text, "%-*s  %s\n", width, l.Name, says)
	}
	return text.String()
}
