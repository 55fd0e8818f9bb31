package main

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"strawline/control"
	"strawline/control/runlog"
	"strawline/control/shop"
	"strawline/probe/temp"
	"strawline/profiles"
)

// recorded takes the readings from a run file, which has them corrected and filtered.
func (s *surveying) recorded() error {
	file, err := runlog.Open(s.f.from)
	if err != nil {
		code := exitData
		if errors.Is(err, fs.ErrNotExist) {
			code = exitNoInput
		} else if errors.Is(err, fs.ErrPermission) {
			code = exitNoRight
		}
		return &fault{code: code, wrong: err}
	}
	defer file.Close()
	records, err := file.All()
	if err != nil {
		return &fault{code: exitData, wrong: err}
	}
	s.simulated, s.of, s.began = file.Info.Simulated, file.Info.Run, file.Info.Start
	air, ref, err := s.channels(&file.Info)
	if err != nil {
		return err
	}
	others := map[int]int{} // channel to place in More
	for c, role := range file.Info.Shop.Channels {
		in := role == string(shop.OvenAir) || role == string(shop.Blade) ||
			role == string(shop.Reference)
		if in && c+1 != air && c+1 != ref {
			others[c+1] = len(others)
		}
	}
	s.in.More = make([][]mark, len(others))
	for _, r := range records {
		if r.Sample == nil {
			continue
		}
		for i, c := range r.Sample.Temp {
			if c == nil {
				continue
			}
			m := mark{r.Sample.T, temp.C(*c)}
			switch place, other := others[i+1]; {
			case i+1 == air:
				s.in.Oven = append(s.in.Oven, m)
			case i+1 == ref:
				s.in.Reference = append(s.in.Reference, m)
			case other:
				s.in.More[place] = append(s.in.More[place], m)
			}
		}
	}
	return s.window(&file.Info, records)
}

// channels finds the oven's and the reference's channel, and what is known of the reference.
func (s *surveying) channels(info *control.Info) (air, ref int, err error) {
	air, ref = max(1, info.Shop.Lead), s.f.channel
	roles := info.Shop.Channels
	var p *shop.Probe
	if s.f.reference != "" {
		if p = s.files.shop.Probe(s.f.reference); p == nil {
			return 0, 0, &fault{code: exitConfig, did: "find", to: "the probe " + s.f.reference +
				" in " + s.files.path, wrong: errors.New("there is none of that name")}
		}
		if ref == 0 {
			ref = p.Channel
		}
	}
	for _, use := range []shop.Use{shop.Reference, shop.Blade} {
		if i := slices.Index(roles, string(use)); ref == 0 && i >= 0 {
			ref = i + 1
		}
	}
	if ref == 0 || ref > len(roles) || ref == air {
		return 0, 0, &fault{code: exitData, did: "survey", to: s.f.from, wrong: fmt.Errorf(
			"no channel of it is a reference: it has %s, and the oven is run by channel %d",
			strings.Join(roles, ", "), air), help: "say which with --channel"}
	}
	s.ref = &tip{typ: 0}
	s.against = fmt.Sprintf("%s, channel %d", roles[ref-1], ref)
	if p != nil {
		s.ref, s.against = tipOf(p), p.Name
	}
	return air, ref, nil
}

// window finds the stay and the door on the run's clock.
func (s *surveying) window(info *control.Info, records []control.Record) error {
	begin, end, set, found := longestSoak(info, records)
	if s.f.since.given {
		begin, end = s.f.since.d, s.f.until.d
	} else if !found {
		return &fault{code: exitData, did: "survey", to: s.f.from,
			wrong: errors.New("it has no soak that was done"), help: "say --since and --until"}
	}
	s.in.Door = s.f.door.d
	if !s.f.door.given {
		for _, r := range records {
			if e := r.Event; e != nil && e.T > begin && e.T < end && s.in.Door == 0 &&
				isDoor(e) {
				s.in.Door = e.T
			}
		}
	}
	s.in.From, s.in.To = begin, end
	if s.in.Door != 0 {
		if s.in.Door <= begin {
			return usage("--door %v is not after the stay's begin at %v", s.in.Door, begin)
		}
		s.in.To = min(end, s.in.Door)
	}
	if !s.f.since.given {
		s.in.From += (s.in.To - s.in.From) / 2 // the blade's and the wall's lag is in the first half
		s.in.Set = &set
	}
	return nil
}

// isDoor says that a person noted the door.
func isDoor(e *control.Event) bool {
	text := e.Text
	if e.Ask != nil {
		text = e.Ask.Text
	}
	return (e.Kind == control.EvNote || e.Kind == control.EvAsk) &&
		strings.HasPrefix(strings.ToLower(strings.TrimSpace(text)), "door")
}

// longestSoak finds the longest time from the first counting of a soak to its end.
func longestSoak(info *control.Info, records []control.Record) (begin, end time.Duration,
	set temp.C, ok bool) {
	step, from, counts := -1, time.Duration(0), false
	for _, r := range records {
		e := r.Event
		if e == nil {
			continue
		}
		switch e.Kind {
		case control.EvStep:
			step, counts = -1, false
			if e.Step != nil && *e.Step >= 0 && *e.Step < len(info.Profile.Steps) &&
				info.Profile.Steps[*e.Step].Kind == profiles.Soak {
				step = *e.Step
			}
		case control.EvSoak:
			if e.Word == string(control.SoakCounting) && step >= 0 && !counts {
				from, counts = e.T, true
			}
		case control.EvSoaked:
			if counts && e.T-from > end-begin {
				begin, end, ok = from, e.T, true
				set = info.Profile.Steps[step].To
			}
			counts = false
		}
	}
	return begin, end, set, ok
}
