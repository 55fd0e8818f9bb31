package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/mattn/go-isatty"

	"strawline/control"
	"strawline/control/keeper"
)

// mayRun gives the line that says what a run is going to do; "" where it heats nothing real. Where
// something of it is odd it asks once, before any port is opened, and goes on only at a yes.
func (h *host) mayRun(f *runFlags, cfg keeper.Config) (ahead string, err error) {
	if cfg.NoHeater || cfg.Sim != nil {
		return "", nil
	}
	info := control.Info{Profile: cfg.Profile, Blade: cfg.Blade,
		Shop: control.Shop{Oven: cfg.Oven, LimitC: float64(cfg.Limit), Proofs: cfg.Proofs}}
	ahead = control.Ahead(info)
	odd := control.Odd(info)
	if f.yes || len(odd) == 0 {
		return ahead, nil
	}
	refused := &fault{did: "heat", to: cfg.Oven}
	if in, is := h.in.(*os.File); !is || !isatty.IsTerminal(in.Fd()) {
		refused.code, refused.wrong = exitNoInput, fmt.Errorf("nobody is there to be asked: %s",
			strings.Join(odd, "; "))
		refused.help = "nothing was heated; --yes answers beforehand"
		return "", refused
	}
	fmt.Fprintf(h.err, "%s\n", ahead)
	for _, why := range odd {
		fmt.Fprintf(h.err, "  look twice: %s\n", why)
	}
	fmt.Fprint(h.err, "Heat all the same? y/n: ")
	line, _ := typedLine(h.in)
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "y", "yes":
		return ahead, nil
	}
	refused.code, refused.wrong = exitTemporary, errors.New("not confirmed")
	refused.help = "nothing was heated"
	return "", refused
}
