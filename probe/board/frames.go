package board

// frame reads the fields of a line that begins with letter. Go evaluates the calls in a
// composite literal from left to right, which is the order of the line.
func (f *fields) frame(letter byte) Frame {
	switch letter {
	case 'B':
		return Boot{f.about()}
	case 'I':
		return Info{f.about()}
	case 'R':
		return Reading{
			Seq:      f.seq(),
			Millis:   uint32(f.num(0, 0xFFFFFFFF)),
			Channel:  uint8(f.num(1, maxChannels)),
			Raw:      f.hex(8),
			Latches:  f.latches(),
			Accepted: f.seq(),
			Refused:  uint8(f.num(0, 0xFF)),
		}
	case 'A':
		return Ack{
			Seq:     f.seq(),
			Of:      f.letter(ofLetters),
			Result:  Result(f.letter(resultLetters)),
			Latches: f.latches(),
		}
	case 'D':
		return Duty{Seq: f.seq(), PerMille: uint16(f.num(0, maxPerMille))}
	case 'Q':
		return Query{Seq: f.seq()}
	case 'P':
		return Propose{Seq: f.seq(), Stored: f.stored()}
	case 'C':
		return Commit{Seq: f.seq(), Check: uint16(f.hex(4))}
	case 'X':
		return Reset{Seq: f.seq()}
	}
	f.fail(ErrForm)
	return nil
}

func (f *fields) about() About {
	v := f.num(0, 0xFFFFFFFF)
	if v != Version {
		f.fail(ErrVersion)
		return About{}
	}
	a := About{
		Version:  uint8(v),
		Name:     f.name(),
		Boot:     f.seq(),
		Cause:    Cause(f.letter(causeLetters)),
		Chip:     f.name(),
		Channels: uint8(f.num(1, maxChannels)),
		CeilingQ: int16(f.num(1, maxQ)),
		Stored:   f.stored(),
		Latches:  f.latches(),
	}
	if a.Stored.Guard > a.Channels || a.Stored.LimitQ > a.CeilingQ {
		f.fail(ErrRange)
	}
	return a
}

func (f *fields) stored() Stored {
	s := Stored{
		Guard:   uint8(f.num(1, maxChannels)),
		LimitQ:  int16(f.num(1, maxQ)),
		WindowS: uint8(f.num(minWindowS, maxWindowS)),
	}
	hz := f.num(0, 0xFFFFFFFF)
	if hz != 50 && hz != 60 {
		f.fail(ErrRange)
	}
	s.MainsHz = uint8(hz)
	return s
}
