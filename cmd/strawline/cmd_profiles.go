package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"strawline/probe/temp"
	"strawline/profiles"
)

func newProfiles(h *host) *cobra.Command {
	cmd := group("profiles", "list, show, check and make profiles")
	cmd.AddCommand(newProfilesList(h), newProfilesShow(h), newProfilesCheck(h), newProfilesNew(h))
	return cmd
}

// profileLine is one profile in `profiles list --json` and `profiles check --json`.
type profileLine struct {
	Name     string  `json:"name"`
	Title    string  `json:"title,omitempty"`
	From     string  `json:"from"` // "built in" or "file"
	File     string  `json:"file,omitempty"`
	LimitC   float64 `json:"limit_c"`
	PlanS    float64 `json:"plan_s"`
	LongestS float64 `json:"longest_s"`
}

// refusedLine is a file of the user's folder that is no profile.
type refusedLine struct {
	File string `json:"file"`
	Why  string `json:"why"`
}

// lineOf takes what a list says of a profile.
func lineOf(p shelved) profileLine {
	line := profileLine{
		Name: p.Name, Title: p.Title, From: "built in", File: p.file, LimitC: float64(p.Limit),
		PlanS: planned(p).Seconds(), LongestS: p.Longest.Seconds(),
	}
	if p.file != "" {
		line.From = "file"
	}
	return line
}

// planned is the planned time of the whole, from a cold oven.
func planned(p shelved) time.Duration {
	var sum time.Duration
	for _, d := range profiles.Lengths(p.Steps) {
		sum += d
	}
	return sum
}

func newProfilesList(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "list the built-in profiles and yours",
		Long: "Lists the built-in profiles and those in strawline/profiles of your\n" +
			"configuration folder ($XDG_CONFIG_HOME, or ~/.config).",
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := h.shelf()
			if err != nil {
				return err
			}
			if asJSON {
				return h.printJSON(listAnswer(s))
			}
			for _, r := range s.refused {
				fmt.Fprintf(h.err, "strawline: profiles: list: %s\n", r.why.Error())
			}
			return h.print(listText(s))
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

func listAnswer(s *shelf) any {
	answer := struct {
		Profiles []profileLine `json:"profiles"`
		Refused  []refusedLine `json:"refused_files"`
	}{[]profileLine{}, []refusedLine{}}
	for _, p := range s.kept {
		answer.Profiles = append(answer.Profiles, lineOf(p))
	}
	for _, r := range s.refused {
		answer.Refused = append(answer.Refused, refusedLine{r.file, r.why.Error()})
	}
	return answer
}

func listText(s *shelf) string {
	width := 0
	for _, p := range s.kept {
		width = max(width, len(p.Name))
	}
	var text strings.Builder
	for _, p := range s.kept {
		fmt.Fprintf(&text, "%-*s  %s", width, p.Name, p.Title)
		if p.file != "" {
			fmt.Fprintf(&text, " (%s)", p.file)
		}
		text.WriteString("\n")
	}
	return text.String()
}

func newProfilesShow(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "show a profile's steps and plan",
		Long:  "Shows a profile, named or read from a file (a path with / or .toml in it).",
		Args:  exactly("the name of a profile"),
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := h.profile(args[0])
			if err != nil {
				return err
			}
			if asJSON {
				return h.printJSON(showAnswer(p))
			}
			return h.print(showText(p))
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

// cornerLine is a corner of the plan in JSON.
type cornerLine struct {
	AtS   float64 `json:"at_s"`
	TempC float64 `json:"temp_c"`
	Step  int     `json:"step"` // index into the profile's steps
}

func showAnswer(p shelved) any {
	line := lineOf(p)
	answer := struct {
		From    string            `json:"from"`
		File    string            `json:"file,omitempty"`
		PlanS   float64           `json:"plan_s"`
		Profile *profiles.Profile `json:"profile"`
		Corners []cornerLine      `json:"plan_corners"`
	}{line.From, line.File, line.PlanS, p.Profile, []cornerLine{}}
	for _, c := range profiles.Plan(p.Steps, 0, profiles.Room, 0, -1, 0) {
		answer.Corners = append(answer.Corners, cornerLine{c.At.Seconds(), float64(c.Temp), c.Step})
	}
	return answer
}

func showText(p shelved) string {
	var text strings.Builder
	text.WriteString(p.Name)
	if p.Title != "" {
		text.WriteString(": " + p.Title)
	}
	text.WriteString("\n")
	if p.Note != "" {
		fmt.Fprintf(&text, "%s\n", p.Note)
	}
	if p.file != "" {
		fmt.Fprintf(&text, "from %s\n", p.file)
	}
	fmt.Fprintf(&text, "limit %s; planned %s, longest %s\n\n", p.Limit.Text(p.Unit, 0),
		clock(planned(p)), clock(p.Longest))
	var at time.Duration
	for i, d := range profiles.Lengths(p.Steps) {
		fmt.Fprintf(&text, "%6s  %s\n", clock(at), p.Steps[i].Words(p.Unit))
		at += d
	}
	fmt.Fprintf(&text, "%6s  end, heat off\n", clock(at))
	fmt.Fprintf(&text, "\nThe times are a plan: an oven that heats %s a minute from %s, and a\n"+
		"person who answers.\n", perMinute(p.Unit), profiles.Room.Text(p.Unit, 0))
	return text.String()
}

// perMinute is the heat rate that the plan assumes.
func perMinute(u temp.Unit) string {
	return strings.TrimPrefix(temp.Delta(profiles.DefaultHeatRate*60).Text(u, 0), "+")
}

// clock writes a span as hours and minutes, "4:57".
func clock(d time.Duration) string {
	d = d.Round(time.Minute)
	return fmt.Sprintf("%d:%02d", d/time.Hour, d%time.Hour/time.Minute)
}

func newProfilesCheck(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "say whether a file is a profile, and where it is not",
		Args:  exactly("the path of a profile file"),
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := readProfile(args[0])
			if asJSON {
				return errors.Join(h.printJSON(checkAnswer(args[0], p, err)), err)
			}
			if err != nil {
				return err
			}
			return h.print(fmt.Sprintf("%s: profile %s, %d steps, planned %s: good\n", args[0],
				p.Name, len(p.Steps), clock(planned(shelved{Profile: p}))))
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

// checked is the answer of `profiles check --json`.
type checked struct {
	File    string       `json:"file"`
	Good    bool         `json:"good"`
	Profile *profileLine `json:"profile,omitempty"`
	Why     string       `json:"why,omitempty"`
	Line    int          `json:"line,omitempty"`
	Column  int          `json:"column,omitempty"`
	Key     string       `json:"key,omitempty"`
}

func checkAnswer(file string, p *profiles.Profile, err error) checked {
	if err == nil {
		line := lineOf(shelved{Profile: p, file: file})
		return checked{File: file, Good: true, Profile: &line}
	}
	answer := checked{File: file, Why: asFault(err).Error()}
	var problem *profiles.Problem
	if errors.As(err, &problem) {
		answer.Line, answer.Column = problem.Line, problem.Column
		answer.Key, answer.Why = problem.Key, problem.Text
	}
	return answer
}
