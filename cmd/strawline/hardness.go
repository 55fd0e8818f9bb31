package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/keeper"
	"strawline/probe/temp"
	"strawline/profiles/steel"
)

// measured is one line of hardness.jsonl: a hardness that a person measured after a run, with
// the steel and the dose. The file is only ever added to; of one run the last line counts.
type measured struct {
	Noted     time.Time `json:"noted"`
	Run       string    `json:"run"`
	Start     time.Time `json:"start"` // of the run: with its name it says which
	Simulated bool      `json:"simulated,omitempty"`
	Steel     string    `json:"steel"`
	P         float64   `json:"p"`
	HottestC  float64   `json:"hottest_c"`
	By        string    `json:"by"`
	HRC       float64   `json:"hrc"`
}

// leastMeasured is how many measured hardnesses say anything of the shop; our choice.
const leastMeasured = 3

// hardnessFile is where measured hardnesses stand: beside the folder of the run files.
func (h *host) hardnessFile() string {
	return filepath.Join(filepath.Dir(h.runsFolder()), "hardness.jsonl")
}

// measuredOf gives the line for a run as it now is.
func measuredOf(info *control.Info, o control.Dose, hrc float64, noted time.Time) measured {
	return measured{Noted: noted.UTC().Round(time.Second), Run: info.Run, Start: info.Start,
		Simulated: info.Simulated, Steel: o.Steel, P: math.Round(o.P*1e5) / 1e5,
		HottestC: math.Round(o.HottestC*100) / 100, By: o.By, HRC: hrc}
}

// addMeasured writes one line more, whole and on the disk.
func (h *host) addMeasured(m measured) (err error) {
	file := h.hardnessFile()
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return fileFault("write", file, err)
	}
	line, err := json.Marshal(m)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return fileFault("write", file, err)
	}
	_, err = f.Write(append(line, '\n'))
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return fileFault("write", file, err)
	}
	return nil
}

// measuredAll reads the file: of each run the last line, in the order of the first ones. A line
// that cannot be read, such as a torn last one, is left out and counted.
func (h *host) measuredAll() (list []measured, bad int, err error) {
	f, err := os.Open(h.hardnessFile())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, fileFault("read", h.hardnessFile(), err)
	}
	defer f.Close()
	at := map[string]int{}
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		var m measured
		if json.Unmarshal(sc.Bytes(), &m) != nil || !(m.HRC > 0 && m.HRC <= 70) || !(m.P > 0) {
			bad++
			continue
		}
		key := m.Run + "\x00" + m.Start.UTC().String()
		if i, is := at[key]; is {
			list[i] = m
			continue
		}
		at[key] = len(list)
		list = append(list, m)
	}
	if err := sc.Err(); err != nil {
		return nil, 0, fileFault("read", h.hardnessFile(), err)
	}
	return list, bad, nil
}

// experience is what this shop measured of a steel beside the table's curve: never mixed in.
type experience struct {
	Count   int     `json:"count"`
	MeanHRC float64 `json:"mean_difference_hrc"` // measured less the curve
	Spread  float64 `json:"spread_hrc"`          // standard deviation of the differences
}

// experienceOf gives what real runs of this shop had; nil below leastMeasured. Only doses for
// which the curve holds are compared.
func (h *host) experienceOf(s steel.Steel) (*experience, error) {
	list, _, err := h.measuredAll()
	if err != nil {
		return nil, err
	}
	var diffs []float64
	sum := 0.0
	for _, m := range list {
		if m.Simulated || !strings.EqualFold(m.Steel, s.Name) {
			continue
		}
		e, err := s.After(steel.Dose{P: m.P, Hottest: temp.C(m.HottestC)}, 0)
		if err != nil {
			continue
		}
		diffs = append(diffs, m.HRC-e.HRC)
		sum += m.HRC - e.HRC
	}
	if len(diffs) < leastMeasured {
		return nil, nil
	}
	x := experience{Count: len(diffs)}
	mean, squares := sum/float64(len(diffs)), 0.0
	for _, d := range diffs {
		squares += (d - mean) * (d - mean)
	}
	x.MeanHRC = math.Round(mean*10) / 10
	x.Spread = math.Round(math.Sqrt(squares/float64(len(diffs)-1))*10) / 10
	return &x, nil
}

// String says it in one line.
func (x *experience) String() string {
	return fmt.Sprintf("%d measured here, on average %+.1f HRC from the curve, spread %.1f; "+
		"not mixed into it", x.Count, x.MeanHRC, x.Spread)
}

// hardnessKept adds to what is kept after a run the hardness that was noted on its end screen.
func (h *host) hardnessKept(after func(keeper.Result) error) func(keeper.Result) error {
	return func(r keeper.Result) error {
		var err error
		if after != nil {
			err = after(r)
		}
		if o := r.Last.Dose; o.Measured > 0 && o.P > 0 && o.Steel != "" && r.Last.Info != nil {
			err = errors.Join(err, h.addMeasured(measuredOf(r.Last.Info, o, o.Measured, r.Last.Wall)))
		}
		return err
	}
}
