package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"strawline/control"
	"strawline/control/shop"
	"strawline/probe/port"
)

// listFlags are the options of `probes list`.
type listFlags struct {
	shop string
	json bool
}

func newProbesList(h *host) *cobra.Command {
	var f listFlags
	cmd := &cobra.Command{
		Use:   "list",
		Short: "list the serial ports, without opening any",
		Long: "List shows each serial port by the name to use for it, what is behind it, who may open\n" +
			"it, which of your own programs has it open and which board of the shop file it is. No\n" +
			"port is opened for it: that would start most boards again.",
		Args: exactly(),
		RunE: func(*cobra.Command, []string) error { return h.list(&f, "/") },
	}
	cmd.Flags().StringVar(&f.shop, "shop", "", "the shop file; unless given, shop.toml in the "+
		"configuration folder")
	addJSON(cmd, &f.json)
	return cmd
}

// listedPort is one port of `probes list --json`.
type listedPort struct {
	Name      string         `json:"name"`
	Why       string         `json:"why_no_better_name,omitempty"`
	Node      string         `json:"node"`
	Names     []string       `json:"names"`
	What      string         `json:"what"`
	VendorID  string         `json:"vendor_id,omitempty"`
	ProductID string         `json:"product_id,omitempty"`
	Maker     string         `json:"maker,omitempty"`
	Model     string         `json:"model,omitempty"`
	Serial    string         `json:"serial_number,omitempty"`
	Driver    string         `json:"driver,omitempty"`
	MayOpen   bool           `json:"may_open"`
	Group     string         `json:"group,omitempty"`
	InGroup   bool           `json:"in_group"`
	Help      string         `json:"help,omitempty"`
	OpenIn    []listedHolder `json:"open_in"`
	OwnSeen   bool           `json:"own_programs_seen"` // without it open_in says nothing
	AllSeen   bool           `json:"all_programs_seen"`
	Board     string         `json:"board,omitempty"`
	Proof     string         `json:"proof,omitempty"` // of a board that can switch heat
}

// listedHolder is a program that has a port open.
type listedHolder struct {
	PID     int    `json:"pid"`
	Program string `json:"program"`
}

// list lists the ports of the system that begins at root.
func (h *host) list(f *listFlags, root string) error {
	files, err := h.anyShop(f.shop)
	if err != nil {
		return err
	}
	found, err := port.List(root)
	if err != nil {
		return &fault{code: exitUnavailable, wrong: err, help: "name a port yourself"}
	}
	answer := struct {
		Ports []listedPort `json:"ports"`
	}{[]listedPort{}}
	for _, p := range found {
		board := files.boardOn(p, root)
		l := listed(p, board)
		if board != nil && board.Kind == shop.Strawline {
			info := control.Info{Shop: control.Shop{Proofs: proofsOf(files.found, board.Name)}}
			l.Proof, _ = info.ProofWords(realClock().Wall())
		}
		answer.Ports = append(answer.Ports, l)
	}
	if f.json {
		return h.printJSON(answer)
	}
	return h.print(portsText(answer.Ports))
}

// anyShop reads the shop file. One that nobody named need not be there, and where it is wrong
// that is said and goes no further: to look at a port comes before a shop file.
func (h *host) anyShop(asked string) (*shopFiles, error) {
	files, err := h.shopFiles(asked)
	if err == nil || asked != "" {
		return files, err
	}
	if f := asFault(err); f.code != exitNoInput {
		fmt.Fprintf(h.err, "the shop file is left out: %s\n", f.Error())
	}
	return &shopFiles{path: h.shopPath(""), shop: &shop.Shop{}}, nil
}

// boardOn gives the board that the shop file has on a port, nil if none.
func (b *shopFiles) boardOn(p port.Found, root string) *shop.Board {
	for i := range b.shop.Boards {
		at := b.shop.Boards[i].Port
		if slices.Contains(p.Names, at) {
			return &b.shop.Boards[i]
		}
		node, err := filepath.EvalSymlinks(filepath.Join(root, at))
		if err != nil {
			continue
		}
		if is, err := filepath.EvalSymlinks(filepath.Join(root, p.Node)); err == nil && is == node {
			return &b.shop.Boards[i]
		}
	}
	return nil
}

func listed(p port.Found, board *shop.Board) listedPort {
	l := listedPort{Name: p.Name, Why: p.Why, Node: p.Node, Names: p.Names, What: p.What(),
		Driver: p.Driver, MayOpen: p.Rights.May, Group: p.Rights.Group, InGroup: p.Rights.In,
		Help: p.Rights.Help, OpenIn: []listedHolder{}, OwnSeen: p.Open.Own, AllSeen: p.Open.All}
	if u := p.USB; u != nil {
		l.VendorID, l.ProductID = fmt.Sprintf("%04x", u.Vendor), fmt.Sprintf("%04x", u.Product)
		l.Maker, l.Model, l.Serial = u.Maker, u.Model, u.Serial
	}
	for _, h := range p.Open.Processes {
		l.OpenIn = append(l.OpenIn, listedHolder{h.PID, h.Program})
	}
	if board != nil {
		l.Board = board.Name
	}
	return l
}

const noPorts = `no ports: nothing serial is plugged in that this system knows
  a cable that only charges has no data wires: try another
  a board in a virtual machine or a container has to be handed on to it
  what the system says while you plug it in: sudo dmesg --follow
`

// portsText is a table, with what is to be said of a port below its line.
func portsText(ports []listedPort) string {
	if len(ports) == 0 {
		return noPorts
	}
	var table strings.Builder
	w := tabwriter.NewWriter(&table, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "port\tnode\twhat it is\tmay open\topen in\tboard")
	for _, p := range ports {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\n", visible(p.Name), visible(p.Node),
			visible(p.What), p.mayText(), p.openText(), orDash(p.Board))
	}
	w.Flush() // into memory, which takes everything
	lines := strings.SplitAfter(table.String(), "\n")
	var text strings.Builder
	text.WriteString(trimLine(lines[0]))
	for i, p := range ports {
		text.WriteString(trimLine(lines[i+1]))
		if p.Why != "" {
			fmt.Fprintf(&text, "    %s\n", p.Why)
		}
		if p.Help != "" {
			fmt.Fprintf(&text, "    %s\n", p.Help)
		}
		if p.Proof != "" {
			fmt.Fprintf(&text, "    %s\n", p.Proof)
		}
	}
	return text.String()
}

func trimLine(s string) string { return strings.TrimRight(s, " \n") + "\n" }

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// mayText says whether this person may open the port, and by which group.
func (p listedPort) mayText() string {
	word := "no"
	if p.MayOpen {
		word = "yes"
	}
	switch {
	case p.Group == "":
		return word
	case p.InGroup:
		return word + ", in group " + p.Group
	}
	return word + ", not in group " + p.Group
}

// openText says which programs have the port open, as far as that can be seen.
func (p listedPort) openText() string {
	var names []string
	for _, h := range p.OpenIn {
		names = append(names, fmt.Sprintf("%s (%d)", visible(h.Program), h.PID))
	}
	switch {
	case len(names) > 0:
		return strings.Join(names, ", ")
	case !p.OwnSeen:
		return "cannot tell"
	case !p.AllSeen:
		return "none of yours"
	}
	return "none"
}

// onlyPort gives the name of the only port that there is.
func onlyPort(root string) (string, error) {
	found, err := port.List(root)
	switch {
	case errors.Is(err, port.ErrCannotList) || err == nil && len(found) > 1:
		return "", usage("say which port; strawline probes list has them")
	case err != nil:
		return "", &fault{code: exitUnavailable, wrong: err, help: "say which port"}
	case len(found) == 0:
		return "", &fault{code: exitUnavailable, did: "find", to: "a port",
			wrong: errors.New("there is none"), help: "strawline probes list says what to check"}
	}
	return found[0].Name, nil
}
