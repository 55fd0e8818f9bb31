package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"strawline/probe/board"
)

// versionAnswer is what `version --json` prints.
type versionAnswer struct {
	Version      string `json:"version"`
	Revision     string `json:"revision,omitempty"`
	RevisionTime string `json:"revision_time,omitempty"`
	Modified     bool   `json:"modified"`
	Go           string `json:"go"`
	System       string `json:"system"`
	Processor    string `json:"processor"`
	Protocol     int    `json:"board_protocol"`
}

func newVersion(h *host) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "version",
		Short: "say which build this is",
		Args:  exactly(),
		RunE: func(*cobra.Command, []string) error {
			info, known := debug.ReadBuildInfo()
			if !known {
				info = &debug.BuildInfo{}
			}
			answer := versionOf(info)
			if asJSON {
				return h.printJSON(answer)
			}
			return h.print(answer.text())
		},
	}
	addJSON(cmd, &asJSON)
	return cmd
}

// addJSON gives cmd the option --json.
func addJSON(cmd *cobra.Command, asJSON *bool) {
	cmd.Flags().BoolVar(asJSON, "json", false, "answer with one JSON object")
}

// versionOf takes what the answer needs out of a build's own record.
func versionOf(info *debug.BuildInfo) versionAnswer {
	answer := versionAnswer{
		Version:   info.Main.Version,
		Go:        runtime.Version(),
		System:    runtime.GOOS,
		Processor: runtime.GOARCH,
		Protocol:  board.Version,
	}
	if answer.Version == "" {
		answer.Version = "unknown"
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			answer.Revision = s.Value
		case "vcs.time":
			answer.RevisionTime = s.Value
		case "vcs.modified":
			answer.Modified = s.Value == "true"
		}
	}
	return answer
}

func (v versionAnswer) text() string {
	var text strings.Builder
	fmt.Fprintf(&text, "strawline %s, %s, %s/%s\n", v.Version, v.Go, v.System, v.Processor)
	if v.Revision != "" {
		fmt.Fprintf(&text, "revision %s of %s", v.Revision, v.RevisionTime)
		if v.Modified {
			text.WriteString(", with changes that are not committed")
		}
		text.WriteString("\n")
	}
	fmt.Fprintf(&text, "board line protocol %d\n", v.Protocol)
	return text.String()
}
