package control

import (
	"math"

	"strawline/control/landing"
	"strawline/control/tune"
	"strawline/probe"
	"strawline/probe/temp"
)

// Decoder gives the temperature that a chip's word stands for; false where it stands for none.
type Decoder func(word uint32) (temp.C, bool)

// Evidence is what a run's records say about its oven.
type Evidence struct {
	Record tune.Record
	Raw    bool    // the readings are those of the chip, corrected; else the filtered ones
	HoldPM float64 // duty that held HoldC in a tuning test, per mille; 0 if there was none
	HoldC  float64 // °C
}

// A decoder is believed if what it makes of the words stays this near to the filtered readings:
// our choice, above what the filter lags behind at full heat and below what another type of
// thermocouple would make of a tempering heat.
const (
	decodedNear = 3.0  // °C rms
	decodedWild = 15.0 // °C, beyond which a single word is no reading
	trialWords  = 400  // that a decoder is tried on
)

// NewEvidence turns a run's records into what a model is found from. The chip's own words are
// used, corrected as in the run, if one of the decoders makes of them what the run believed:
// filtered readings lag and hide the noise. Without one the filtered readings are used.
func NewEvidence(info Info, records []Record, decoders ...Decoder) Evidence {
	e := Evidence{Record: folded(info, records, nil)}
	var ev *Event
	for i := range records { // the last duty before the first swing is what held the oven
		r := records[i]
		if r.Event != nil && r.Event.Kind == EvTest && r.Event.Word == TestSwinging {
			ev = r.Event
			break
		}
		if r.Sample != nil && info.Test != nil {
			e.HoldPM, e.HoldC = float64(r.Sample.Duty), info.Test.TargetC
		}
	}
	if ev == nil {
		e.HoldPM, e.HoldC = 0, 0
	}
	best, by := decodedNear, Decoder(nil)
	lead, fix := info.Shop.LeadChannel()-1, leadCorrection(info)
	for _, d := range decoders {
		if off := apartBy(records, lead, fix, d); off < best {
			best, by = off, d
		}
	}
	if by != nil {
		e.Record, e.Raw = folded(info, records, by), true
	}
	return e
}

// leadCorrection gives the correction of the channel that leads a run.
func leadCorrection(info Info) probe.Correction {
	if lead := info.Shop.LeadChannel() - 1; lead < len(info.Shop.Corrections) {
		return info.Shop.Corrections[lead].value()
	}
	return probe.Correction{}
}

// apartBy gives the rms, °C, by which a decoder's readings differ from those that the run
// believed, over some hundred of them; more than any limit if there are none, if it makes nothing
// of a word that the run believed, or if many are wild.
func apartBy(records []Record, lead int, fix probe.Correction, decode Decoder) float64 {
	sum, n, wild := 0.0, 0, 0
	for i := 0; i < len(records); i += 1 + len(records)/trialWords {
		s := records[i].Sample
		if s == nil || lead >= len(s.Temp) || s.Temp[lead] == nil || !hasWord(s, lead) {
			continue
		}
		c, good := decode(s.Raw[lead])
		if !good {
			return math.Inf(1)
		}
		d := float64(fix.Correct(c)) - *s.Temp[lead]
		if n++; math.Abs(d) > decodedWild {
			wild++
		} else {
			sum += d * d
		}
	}
	if n == 0 || wild*50 > n {
		return math.Inf(1)
	}
	return math.Sqrt(sum / float64(n))
}

func hasWord(s *Sample, lead int) bool {
	return lead < len(s.Raw) && lead < len(s.HasRaw) && s.HasRaw[lead]
}

// folded goes through the records. A duty counts as limited while a doubt or a trip stands, and
// the door as open while the law takes it for open.
func folded(info Info, records []Record, decode Decoder) tune.Record {
	lead := info.Shop.LeadChannel() - 1
	fix := leadCorrection(info)
	out := make(tune.Record, 0, len(records))
	limited, door, last := false, false, math.NaN()
	for _, r := range records {
		if e := r.Event; e != nil {
			switch e.Kind {
			case EvDoubt, EvTrip:
				limited = true
			case EvClear, EvGoOn:
				limited = false
			case EvLaw:
				door = e.Word == landing.Door.String()
			}
			continue
		}
		s, good := r.Sample, false
		if lead < len(s.Temp) && s.Temp[lead] != nil {
			good, last = true, *s.Temp[lead]
			if decode != nil {
				last, good = decoded(s, lead, decode, fix, last)
			}
		}
		t := s.T.Seconds()
		if math.IsNaN(last) || len(out) > 0 && t <= out[len(out)-1].T {
			continue
		}
		out = append(out, tune.Sample{T: t, Y: last, Duty: float64(s.Duty) / 1000, Door: door,
			Limited: limited, Bad: !good})
	}
	return out
}

// decoded gives the chip's own reading of a channel; one far from the believed reading is that.
func decoded(s *Sample, lead int, decode Decoder, fix probe.Correction, believed float64,
) (float64, bool) {
	if !hasWord(s, lead) {
		return believed, false
	}
	c, good := decode(s.Raw[lead])
	if !good {
		return believed, false
	}
	if y := float64(fix.Correct(c)); math.Abs(y-believed) < decodedWild {
		return y, true
	}
	return believed, true
}
