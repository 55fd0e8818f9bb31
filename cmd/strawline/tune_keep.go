package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/shop"
	"strawline/control/tune"
	"strawline/probe/temp"
	"strawline/tui"
)

// simulatedMark begins the name of a simulated oven and of its run in a found file, so that no
// reader takes it for one of a shop.
const simulatedMark = "simulated-"

// keepTuned writes model and gains into a found file and gives its path.
func (h *host) keepTuned(f *tuneFlags, c concluded) (string, error) {
	path, of := f.found, ovenKey(c.info)
	switch {
	case c.info.Simulated && path == "":
		return "", &fault{code: exitUsage, did: "keep", to: "what a simulated oven showed",
			wrong: errors.New("it is no figure of your shop"), help: "say --found FILE"}
	case c.info.Simulated && besideShop(path, h.shopPath("")):
		return "", &fault{code: exitUsage, did: "keep", to: "what a simulated oven showed in " + path,
			wrong: errors.New("that is the found file of a shop"), help: "name another file"}
	case path == "":
		b, err := h.shopFiles(f.shop)
		if err != nil {
			return "", err
		}
		o, err := b.oven(c.info.Shop.Oven)
		if err != nil {
			return "", err
		}
		path, of = shop.FoundPath(b.path), o.Name
		if own := ownFigures(o); own != "" {
			fmt.Fprintf(h.err, "strawline: tune: %s stands for %s in %s, which wins over what is "+
				"kept\n", own, o.Name, b.path)
		}
	}
	model, gains, err := entriesOf(c, of, f.taken(c.found), f.take.word)
	if err != nil {
		return "", err
	}
	err = shop.NewStore(path).Update(func(found *shop.Found) error {
		found.Models = shop.Put(found.Models, model)
		found.Gains = shop.Put(found.Gains, gains)
		return nil
	})
	if err != nil {
		return "", &fault{code: exitIO, did: "keep the model in", to: path, wrong: err}
	}
	return path, nil
}

// besideShop says that a path is the found file of a shop: the usual one, or one that has a shop
// file beside it.
func besideShop(path, usual string) bool {
	real := func(p string) string {
		if abs, err := filepath.Abs(p); err == nil {
			p = abs
		}
		if dir, err := filepath.EvalSymlinks(filepath.Dir(p)); err == nil {
			p = filepath.Join(dir, filepath.Base(p))
		}
		if whole, err := filepath.EvalSymlinks(p); err == nil {
			p = whole
		}
		return p
	}
	path = real(path)
	if path == real(shop.FoundPath(usual)) {
		return true
	}
	if filepath.Base(path) != filepath.Base(shop.FoundPath(usual)) {
		return false
	}
	_, err := os.Stat(filepath.Join(filepath.Dir(path), "shop.toml"))
	return err == nil
}

// ovenKey is the name of a run's oven in a found file.
func ovenKey(info control.Info) string {
	key := nameOf(info.Shop.Oven)
	if info.Simulated && !strings.HasPrefix(key, simulatedMark) {
		key = simulatedMark + key
	}
	return key[:min(len(key), shop.LongestName)]
}

// nameOf makes a name of small letters, digits and hyphens.
func nameOf(s string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	if name := strings.Trim(b.String(), "-"); name != "" {
		return name
	}
	return "oven"
}

// entriesOf makes what stands in a found file of a model and of the gains that were taken.
func entriesOf(c concluded, of string, taken tune.Choice, word string) (
	model shop.Entry[shop.Model], gains shop.Entry[shop.FoundGains], err error,
) {
	if math.IsInf(taken.Gains.Ti, 0) || !taken.OK {
		return model, gains, &fault{code: exitData, did: "keep", to: "the gains",
			wrong: errors.New("they have no integral")}
	}
	date, run := shop.DateOf(c.info.Start), strings.TrimSuffix(filepath.Base(c.path), ".jsonl")
	if c.info.Simulated {
		run = c.info.Run // nothing of the machine
	}
	if c.info.Simulated && !strings.Contains(run, "simulated") {
		run = simulatedMark + run
	}
	model = shop.Entry[shop.Model]{Of: of, Date: date, Run: run, Value: modelOf(c)}
	gains = shop.Entry[shop.FoundGains]{Of: of, Date: date, Run: run,
		Value: shop.FoundGains{Rule: fmt.Sprintf("SIMC, %s", word), Gains: shop.Gains{
			Kp: digits(taken.Gains.K), Ti: secs(taken.Gains.Ti), Td: secs(taken.Gains.Td),
			Weight: taken.Gains.B}}}
	return model, gains, nil
}

func modelOf(c concluded) shop.Model {
	m := c.found.Model
	out := shop.Model{Second: secs(m.T2), DeadTime: secs(m.L), Hold: digits(c.ev.HoldPM / 1000),
		Noise: temp.Delta(digits(c.found.Sigma))}
	if out.Hold > 0 {
		out.HoldAt = temp.C(c.ev.HoldC)
	}
	// An end that the record does not tell is no figure to keep: the slope is.
	if m.Kind == tune.Integrating || tui.Untold(m.T, m.Half.T) || tui.Untold(m.K, m.Half.K) {
		out.Slope = digits(m.Slope())
	} else {
		out.Rise, out.TimeConstant = temp.Delta(digits(m.K)), secs(m.T)
	}
	landingOf(c, &out)
	return out
}

// secs gives a span to the millisecond.
func secs(s float64) time.Duration {
	return time.Duration(math.Round(s*1000)) * time.Millisecond
}

// digits keeps six digits of a figure: more than any test tells, and fit to be read.
func digits(x float64) float64 {
	if x == 0 {
		return 0
	}
	scale := math.Pow(10, 5-math.Floor(math.Log10(math.Abs(x))))
	return math.Round(x*scale) / scale
}

func holdWords(ev control.Evidence, u temp.Unit) string {
	return fmt.Sprintf("%.1f %% of the heat at %s", ev.HoldPM/10, temp.C(ev.HoldC).Text(u, 0))
}

// foundOf gives the gains and the model that a found file has for a simulated oven; the cautious
// gains and no model if path is "".
func foundOf(path, oven string) (control.Gains, *control.ModelInfo, error) {
	if path == "" {
		return control.CautiousGains(), nil, nil
	}
	if _, err := os.Stat(path); err != nil { // a store that is not there is an empty one
		return control.Gains{}, nil, fileFault("read", path, err)
	}
	found, err := shop.NewStore(path).Load()
	if err != nil {
		return control.Gains{}, nil, &fault{code: exitData, wrong: err}
	}
	key := ovenKey(control.Info{Simulated: true, Shop: control.Shop{Oven: oven}})
	g, m := shop.PickGains(&shop.Shop{}, found, key), shop.PickModel(&shop.Shop{}, found, key)
	if g.Origin == shop.FromNowhere || m.Origin == shop.FromNowhere {
		return control.Gains{}, nil, &fault{code: exitData, did: "find", to: key + " in " + path,
			wrong: errors.New("it has no model and gains of that oven"),
			help:  "strawline tune --simulated --found " + path + " makes them"}
	}
	return gainsInfo(g), modelInfo(m), nil
}

// ownFigures says what a person wrote of an oven that hides what is found.
func ownFigures(o *shop.Oven) string {
	switch {
	case o.Gains != nil && o.Model != nil:
		return "a model with gains"
	case o.Gains != nil:
		return "a set of gains"
	case o.Model != nil:
		return "a model"
	}
	return ""
}
