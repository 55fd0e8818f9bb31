package shop

import (
	"fmt"
	"slices"

	"strawline/probe/temp"
)

// Parse reads a shop file as the package comment describes it; file is only for messages. A file
// with nothing in it is a shop with nothing in it. An error is always a *Problem.
func Parse(file string, data []byte) (*Shop, error) {
	r := &reader{what: "shop file", file: file, data: data}
	t := r.open()
	s := &Shop{Name: t.words("name", `"barn"`)}
	t.known("a shop file", "name", "unit", "board", "probe", "oven", "forge",
		"on_alarm", "on_done", "bell", "title", "notify")
	s.OnAlarm = t.command("on_alarm")
	s.OnDone = t.command("on_done")
	s.Bell, s.Title, s.Notify = t.yes("bell"), t.yes("title"), t.yes("notify")
	for _, b := range t.tables("board", "begin each with a line [[board]]") {
		s.addBoard(b)
	}
	for _, p := range t.tables("probe", "begin each with a line [[probe]]") {
		s.addProbe(p)
	}
	for _, o := range t.tables("oven", "begin each with a line [[oven]]") {
		s.addOven(o)
	}
	for _, f := range t.tables("forge", "begin each with a line [[forge]]") {
		s.addForge(f)
	}
	if u, ok := t.unit("unit"); ok {
		s.Unit = u
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return s, nil
}

// the words of the file.
func kinds() []string { return []string{string(Strawline), string(Lines), string(Modbus)} }

func uses() []string {
	return []string{string(OvenAir), string(Blade), string(InForge), string(Oil),
		string(Reference)}
}

func types() []string { return []string{"B", "E", "J", "K", "N", "R", "S", "T"} }

func chips() []string {
	return []string{"MAX31855K", "MAX31855J", "MAX31855N", "MAX31855T", "MAX31855S", "MAX31855R",
		"MAX31855E", "MAX6675", "MAX31856", "MCP9600", "ADS1118"}
}

// bauds are the rates that a serial port of any system can be set to. 1200 is not among them:
// opening and closing at 1200 sends many boards to their bootloader.
func bauds() []int {
	return []int{2400, 4800, 9600, 19200, 38400, 57600, 74880, 115200, 230400, 250000, 460800,
		500000, 921600, 1000000}
}

const (
	boardBaud = 38400 // our line protocol's one rate
	plainBaud = 9600  // what most sketches and modules come with
)

func (s *Shop) addBoard(t table) {
	b := Board{
		Name: t.name("name", "temper"),
		Kind: Kind(t.one("kind", "", kinds()...)),
		Port: t.words("port", `"/dev/ttyUSB0"`),
		Note: t.words("note", `"behind the kiln"`),
	}
	if b.Kind == "" {
		t.need("a board", "kind")
		return
	}
	own := []string{"name", "kind", "port", "baud", "note"}
	switch b.Kind {
	case Strawline:
		t.known("a strawline board", own...)
	case Lines:
		t.known("a board of kind lines", append(own, "unit", "decimal", "columns", "cold_column",
			"chip")...)
		b.Lines = linesHints(t)
	case Modbus:
		t.known("a board of kind modbus", append(own, "parity", "channel")...)
		t.need("a board of kind modbus", "channel")
		b.Parity = t.one("parity", "none", "none", "even", "odd")
		b.Channels = channels(t)
	}
	t.need("a board", "name", "port")
	b.Baud = baud(t, b.Kind)
	if s.Board(b.Name) != nil {
		t.fail("name", "there is a board %q already: names are there to tell boards apart", b.Name)
	}
	if o := find(s.Boards, func(o *Board) bool { return o.Port == b.Port }); o != nil {
		t.fail("port", "board %q is on this port already: a port has one board", o.Name)
	}
	s.Boards = append(s.Boards, b)
}

func baud(t table, k Kind) int {
	if k == Strawline {
		if n := t.whole("baud", boardBaud, 1, 10e6); n != boardBaud {
			t.fail("baud", "a strawline board talks at %d and nothing else: leave this out",
				boardBaud)
		}
		return boardBaud
	}
	n := t.whole("baud", plainBaud, 1, 10e6)
	if n == 1200 {
		t.fail("baud", "opening a port at 1200 sends many boards to their bootloader: "+
			"use a faster rate")
	}
	if !slices.Contains(bauds(), n) {
		t.fail("baud", "%d is no usual rate: write one of %v", n, bauds())
	}
	return n
}

func linesHints(t table) LinesHints {
	var h LinesHints
	h.Unit, h.HasUnit = t.unit("unit")
	h.Decimal = t.one("decimal", "", ".", ",")
	h.Chip = t.one("chip", "", chips()...)
	if v, ok := t.vals["cold_column"]; ok {
		h.ColdColumn = column(t, t.at.at("cold_column"), "cold_column", v)
	}
	v, ok := t.vals["columns"]
	if !ok {
		return h
	}
	a, isList := v.([]any)
	if !isList || len(a) == 0 || len(a) > MaxChannel {
		t.fail("columns", "a list of 1 to %d columns belongs here, as [2, 3]", MaxChannel)
		return h
	}
	for i, e := range a {
		w := t.at.at("columns").item(i)
		c := column(t, w, "columns", e)
		if slices.Contains(h.Columns, c) || c == h.ColdColumn {
			t.r.fail(w, "columns", "this column stands for something else already")
		}
		h.Columns = append(h.Columns, c)
	}
	return h
}

func column(t table, w *where, key string, v any) Column {
	const most = 64
	switch v := v.(type) {
	case int64:
		if v >= 1 && v <= most {
			return Column{Number: int(v)}
		}
	case string:
		if v != "" && len([]rune(v)) <= mostWords && printable(v) {
			return Column{Label: v}
		}
	}
	t.r.fail(w, key, fmt.Sprintf("%s, but a column belongs here: its number, 1 to %d, or its "+
		"label in quotes", kindOf(v), most))
	return Column{}
}

func channels(t table) (out []Channel) {
	list := t.tables("channel", "begin each with a line [[board.channel]]")
	for i, c := range list {
		c.known("a channel", "number", "address", "function", "register", "type", "word_order",
			"scale", "unit", "low", "high", "note")
		ch := Channel{
			Number:    c.whole("number", min(i+1, MaxChannel), 1, MaxChannel),
			Address:   c.whole("address", 0, 1, 247),
			Function:  c.whole("function", 4, 3, 4),
			Register:  c.whole("register", 0, 0, 65535),
			Type:      c.one("type", "int16", "int16", "uint16", "int32", "uint32", "float32"),
			WordOrder: c.one("word_order", "ABCD", "ABCD", "CDAB", "BADC", "DCBA"),
			Scale:     c.number("scale", 1, 1e-6, 1e6),
			Low:       Coldest,
			High:      Hottest,
		}
		c.need("a channel", "address", "register", "scale", "unit")
		ch.Unit, _ = c.unit("unit")
		ch.limits(c)
		if len(ch.Type) > 0 && ch.Type != "int16" && ch.Type != "uint16" && ch.Register == 65535 {
			c.fail("register", "a value of type %s takes two registers, and 65535 is the last",
				ch.Type)
		}
		if find(out, func(o *Channel) bool { return o.Number == ch.Number }) != nil {
			c.fail("number", "there is a channel %d already", ch.Number)
		}
		out = append(out, ch)
	}
	if len(list) == 0 {
		t.fail("channel", "a module without a channel has nothing to read")
	}
	return out
}

func (ch *Channel) limits(t table) {
	if c, _, ok := t.tempIn("low", Coldest, Hottest); ok {
		ch.Low = c
	}
	if c, u, ok := t.tempIn("high", Coldest, Hottest); ok {
		ch.High = c
		if ch.High <= ch.Low {
			t.fail("high", "%s is not above low, %s", show(ch.High, u), show(ch.Low, u))
		}
	}
}

func (s *Shop) addProbe(t table) {
	t.known("a probe", "name", "board", "channel", "use", "type", "class", "fitted", "note",
		"correction")
	t.need("a probe", "name", "board", "use")
	p := Probe{
		Name:    t.name("name", "oven-air"),
		Board:   t.name("board", "temper"),
		Channel: t.whole("channel", 1, 1, MaxChannel),
		Use:     Use(t.one("use", "", uses()...)),
		Type:    t.one("type", "K", types()...),
		Class: Class(t.one("class", "", string(Class1), string(Class2), string(Class3),
			string(Standard), string(Special))),
		Fitted: t.date("fitted"),
		Note:   t.words("note", `"through the back wall"`),
	}
	if !classKnown(p.Type, p.Class) {
		t.fail("class", "IEC 60584-1 has no %s for type %s", p.Class, p.Type)
	}
	if s.Probe(p.Name) != nil {
		t.fail("name", "there is a probe %q already", p.Name)
	}
	s.checkChannel(t, p)
	if c, ok := t.sub("correction"); ok {
		c.known("a correction", "offset", "point", "date", "source")
		v := c.correction()
		p.Correction = &v
	}
	s.Probes = append(s.Probes, p)
}

// classKnown says whether the standards have the class for the type: IEC 60584-1:2013 has no
// class 1 of B and no class 3 of J, R and S (makers' copies of its table).
func classKnown(letter string, c Class) bool {
	switch c {
	case Class1:
		return letter != "B"
	case Class3:
		return letter != "J" && letter != "R" && letter != "S"
	}
	return true
}

// checkChannel sees to it that the probe hangs on a channel that is there and free.
func (s *Shop) checkChannel(t table, p Probe) {
	b := s.Board(p.Board)
	if b == nil {
		t.fail("board", "there is no board %q in this file%s", p.Board,
			having(s.Boards, func(b *Board) string { return b.Name }))
		return
	}
	key := "channel"
	if !t.has(key) {
		key = "board"
	}
	if n := len(b.Lines.Columns); n > 0 && p.Channel > n {
		t.fail(key, "board %q has columns for %d channels, and this is channel %d", b.Name, n,
			p.Channel)
	}
	if b.Kind == Modbus && find(b.Channels, func(c *Channel) bool {
		return c.Number == p.Channel
	}) == nil {
		t.fail(key, "board %q has no channel %d", b.Name, p.Channel)
	}
	if o := find(s.Probes, func(o *Probe) bool {
		return o.Board == p.Board && o.Channel == p.Channel
	}); o != nil {
		t.fail(key, "probe %q is on channel %d of board %q already", o.Name, o.Channel, o.Board)
	}
}

// having lists what there is, for a complaint.
func having[T any](all []T, name func(*T) string) string {
	if len(all) == 0 {
		return ": it has none"
	}
	var names []string
	for i := range all {
		names = append(names, name(&all[i]))
	}
	return ": it has " + list(names)
}

func (s *Shop) addOven(t table) {
	t.known("an oven", "name", "limit", "board", "heater", "probes", "gains", "model", "output",
		"fan", "note")
	t.need("an oven", "name", "limit")
	o := Oven{
		Name:   t.name("name", "kiln"),
		Board:  t.name("board", "temper"),
		Heater: t.yes("heater"),
		Fan:    t.yes("fan"),
		Note:   t.words("note", `"the small one"`),
	}
	var u temp.Unit
	o.Limit, u, _ = t.tempIn("limit", LowestLimit, HighestOven)
	if len(s.Ovens) == 0 {
		s.Unit = u
	}
	s.checkPlace(t, o.Name)
	s.checkHeater(t, o)
	o.Probes = s.probesOf(t, "an oven", func(p *Probe) bool {
		return p.Use == OvenAir && o.Board != "" && p.Board == o.Board
	})
	if g, ok := t.sub("gains"); ok {
		g.known("gains", "kp", "ti", "td", "weight")
		v := g.gains()
		o.Gains = &v
	}
	if m, ok := t.sub("model"); ok {
		m.known("a model", modelKeys()...)
		v := m.model()
		o.Model = &v
	}
	if p, ok := t.sub("output"); ok {
		v := p.output()
		o.Output = &v
		if !o.Heater {
			t.fail("output", "the heat of this oven is not ours to switch: say heater = true, "+
				"or leave this out")
		}
	}
	s.Ovens = append(s.Ovens, o)
}

// checkPlace keeps the names of ovens and forges apart.
func (s *Shop) checkPlace(t table, name string) {
	if s.Oven(name) != nil || s.Forge(name) != nil {
		t.fail("name", "there is an oven or a forge %q already", name)
	}
}

func (s *Shop) checkHeater(t table, o Oven) {
	if o.Board == "" {
		if o.Heater {
			t.fail("heater", "who switches it? Name the board that takes its duty: board = \"...\"")
		}
		return
	}
	b := s.Board(o.Board)
	if b == nil {
		t.fail("board", "there is no board %q in this file%s", o.Board,
			having(s.Boards, func(b *Board) string { return b.Name }))
		return
	}
	if o.Heater && b.Kind != Strawline {
		t.fail("heater", "board %q is of kind %s, which is for reading: only a strawline board "+
			"takes duty", b.Name, b.Kind)
	}
	if other := find(s.Ovens, func(p *Oven) bool {
		return o.Heater && p.Heater && p.Board == o.Board
	}); other != nil {
		t.fail("heater", "board %q switches oven %q already, and has one output", b.Name,
			other.Name)
	}
}

// probesOf reads the probes of a place; those that belong if the file names none.
func (s *Shop) probesOf(t table, what string, belongs func(*Probe) bool) []string {
	names, given := t.names("probes", `["oven-air"]`)
	for i, n := range names {
		if s.Probe(n) == nil {
			t.r.fail(t.at.at("probes").item(i), "probes", fmt.Sprintf(
				"there is no probe %q in this file%s", n,
				having(s.Probes, func(p *Probe) string { return p.Name })))
		}
	}
	if given {
		return names
	}
	for i := range s.Probes {
		if belongs(&s.Probes[i]) {
			names = append(names, s.Probes[i].Name)
		}
	}
	if len(names) == 0 {
		t.r.fail(t.at, "", what+` needs probes: name them, as probes = ["oven-air"]`)
	}
	return names
}

func (s *Shop) addForge(t table) {
	t.known("a forge", "name", "limit", "probes", "note")
	t.need("a forge", "name")
	f := Forge{Name: t.name("name", "gas"), Note: t.words("note", `"two burners"`)}
	f.Limit, _, _ = t.tempIn("limit", LowestLimit, HighestForge)
	s.checkPlace(t, f.Name)
	f.Probes = s.probesOf(t, "a forge", func(p *Probe) bool { return p.Use == InForge })
	s.Forges = append(s.Forges, f)
}
