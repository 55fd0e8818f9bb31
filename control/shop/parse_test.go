package shop

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"strawline/probe/modbus"
	"strawline/probe/temp"
)

const shelf = "../../testdata/shop"

func full(t testing.TB) *Shop {
	t.Helper()
	s, err := Load(filepath.Join(shelf, "good/full.toml"))
	require.NoError(t, err)
	return s
}

// Each bad file says in its first line what is to be found: "# want LINE:COLUMN TEXT".
func badFiles(t *testing.T, folder, what string, least int,
	parse func(file string, data []byte) error) {
	files, err := filepath.Glob(filepath.Join(shelf, folder, "*.toml"))
	require.NoError(t, err)
	require.Greater(t, len(files), least)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".toml"), func(t *testing.T) {
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			first, _, _ := strings.Cut(string(data), "\n")
			where, text, ok := strings.Cut(strings.TrimPrefix(first, "# want "), " ")
			require.True(t, ok)
			line, column, _ := strings.Cut(where, ":")

			err = parse("my.toml", data)
			var p *Problem
			require.ErrorAs(t, err, &p)
			assert.Contains(t, err.Error(),
				what+" my.toml, line "+line+", column "+column+": ")
			assert.Contains(t, err.Error(), text)
			assert.NotContains(t, err.Error(), "\n")
			for _, goType := range []string{"toml:", "interface", "map[", "int64", "float64",
				"struct", "shop."} {
				assert.NotContains(t, err.Error(), goType)
			}
		})
	}
}

func TestBadShopFiles(t *testing.T) {
	badFiles(t, "bad", "shop file", 130, func(file string, data []byte) error {
		s, err := Parse(file, data)
		assert.Nil(t, s)
		return err
	})
}

func TestBadFoundFiles(t *testing.T) {
	badFiles(t, "bad-found", "found file", 18, func(file string, data []byte) error {
		f, err := ParseFound(file, data)
		assert.Equal(t, Found{}, f)
		return err
	})
}

func TestBoards(t *testing.T) {
	s := full(t)
	assert.Equal(t, "barn", s.Name)
	assert.Equal(t, temp.Fahrenheit, s.Unit)
	require.Len(t, s.Boards, 3)
	assert.Equal(t, Board{Name: "temper", Kind: Strawline, Baud: 38400,
		Port: "/dev/serial/by-id/usb-1a86-if00", Note: "behind the kiln"}, *s.Board("temper"))
	assert.Equal(t, Board{Name: "sketch", Kind: Lines, Baud: 115200, Port: "/dev/ttyUSB1",
		Lines: LinesHints{HasUnit: true, Decimal: ",", Columns: []Column{{Number: 2},
			{Label: "oil bath"}}, ColdColumn: Column{Number: 4}, Chip: "MAX31855N"}},
		*s.Board("sketch"))
	m := s.Board("module")
	assert.Equal(t, []any{Modbus, "COM7", 9600, "even"}, []any{m.Kind, m.Port, m.Baud, m.Parity})
	require.Len(t, m.Channels, 2)
	assert.InDelta(t, -200, float64(m.Channels[0].Low), 1e-9)
	m.Channels[0].Low = -200
	assert.Equal(t, []Channel{
		{Number: 3, Address: 17, Function: 3, Register: 107, Type: "float32", WordOrder: "CDAB",
			Scale: 1, Unit: temp.Fahrenheit, Low: -200, High: 1372},
		{Number: 2, Address: 18, Function: 4, Type: "int16", WordOrder: "ABCD", Scale: 0.1,
			Low: -270, High: 1820},
	}, m.Channels)
	assert.Nil(t, s.Board("none"))
}

func TestProbes(t *testing.T) {
	s := full(t)
	require.Len(t, s.Probes, 5)
	air := s.Probe("oven-air")
	assert.InDelta(t, -2.5/1.8, float64(air.Correction.Offset), 1e-12)
	air.Correction.Offset = 0
	assert.Equal(t, Probe{Name: "oven-air", Board: "temper", Channel: 1, Use: OvenAir, Type: "K",
		Class: Special, Fitted: Date{2026, 3, 1}, Note: "through the back wall",
		Correction: &Correction{Date: Date{2026, 11, 2}, Source: "ice point"}}, *air)
	blade := s.Probe("blade")
	assert.Equal(t, Probe{Name: "blade", Board: "temper", Channel: 2, Use: Blade, Type: "N",
		Class: Class3, Fitted: Date{2026, 2, 28}, Correction: &Correction{
			Points: []Point{{0, 0.4}, {100, 99.1}}, Date: Date{2026, 11, 3},
			Source: "ice and boiling point at 420 m"}}, *blade)
	assert.Equal(t, []any{Oil, "T", Class("")},
		[]any{s.Probe("oil").Use, s.Probe("oil").Type, s.Probe("oil").Class})
	assert.Equal(t, InForge, s.Probe("wall").Use)
	assert.Equal(t, Reference, s.Probe("ref").Use)
	assert.True(t, s.Probe("ref").Fitted.IsZero())
	assert.Nil(t, s.Probe("none"))
}

func TestOvensAndForges(t *testing.T) {
	s := full(t)
	require.Len(t, s.Ovens, 2)
	kiln := s.Oven("kiln")
	assert.InDelta(t, 260, float64(kiln.Limit), 1e-9)
	assert.True(t, kiln.Heater)
	assert.Equal(t, []string{"oven-air"}, kiln.Probes, "those of its board for the oven air")
	assert.InDelta(t, 0.036*1.8, kiln.Gains.Kp, 1e-15)
	kiln.Gains.Kp = 0
	assert.Equal(t, Gains{Ti: 2 * time.Minute, Td: 12500 * time.Millisecond, Weight: 0.4},
		*kiln.Gains)
	assert.InDelta(t, 1100/1.8, float64(kiln.Model.Rise), 1e-9)
	kiln.Model.Rise = 0
	assert.Equal(t, Model{TimeConstant: 40 * time.Minute, Second: 45 * time.Second,
		DeadTime: 12 * time.Second}, *kiln.Model)
	assert.Equal(t, Output{Window: 4 * time.Second, MainsHz: 60}, *kiln.Output)
	kitchen := s.Oven("kitchen")
	assert.Equal(t, Oven{Name: "kitchen", Limit: 260, Probes: []string{"oven-air", "ref"}},
		*kitchen)
	assert.Equal(t, Forge{Name: "gas", Limit: 1300, Probes: []string{"wall"},
		Note: "two burners"}, *s.Forge("gas"))
	assert.Nil(t, s.Oven("gas"))
	assert.Nil(t, s.Forge("kiln"))
}

// TestDefaults: what a file does not say.
func TestDefaults(t *testing.T) {
	for _, name := range []string{"good/empty.toml", "good/comment.toml"} {
		s, err := Load(filepath.Join(shelf, name))
		require.NoError(t, err)
		assert.Equal(t, &Shop{}, s)
	}
	const head = "\xef\xbb\xbf[[board]]\r\nname = \"b\"\r\nkind = \"lines\"\r\nport = \"x\"\r\n"
	const rest = "[[probe]]\nname = \"p\"\nboard = \"b\"\nuse = \"oven air\"\n" +
		"[[oven]]\nname = \"c\"\nboard = \"b\"\nlimit = \"500F\"\n" +
		"[[oven]]\nname = \"o\"\nboard = \"b\"\nlimit = \"260C\"\n"
	s, err := Parse("a", []byte(head+rest))
	require.NoError(t, err)
	assert.Equal(t, temp.Fahrenheit, s.Unit, "that of the first oven's limit")
	assert.Equal(t, Board{Name: "b", Kind: Lines, Port: "x", Baud: 9600}, s.Boards[0])
	assert.Equal(t, Probe{Name: "p", Board: "b", Channel: 1, Use: OvenAir, Type: "K"},
		s.Probes[0])
	assert.False(t, s.Ovens[0].Heater, "off is the resting state")
	assert.Nil(t, s.Ovens[0].Gains)
	s, err = Parse("a", []byte("unit = \"C\"\n"+strings.TrimPrefix(head, "\xef\xbb\xbf")+rest))
	require.NoError(t, err)
	assert.Equal(t, temp.Celsius, s.Unit)

	g, err := Parse("a", []byte(head+rest+"[oven.gains]\nkp = \"1/C\"\nti = \"1h\"\n"))
	require.NoError(t, err)
	assert.Equal(t, Gains{Kp: 1, Ti: time.Hour, Weight: 1}, *g.Ovens[1].Gains)
}

// TestOutputs: how a heater is switched, each with its units.
func TestOutputs(t *testing.T) {
	const head = "[[board]]\nname = \"b\"\nkind = \"strawline board\"\nport = \"x\"\n" +
		"[[probe]]\nname = \"p\"\nboard = \"b\"\nuse = \"oven air\"\n" +
		"[[oven]]\nname = \"o\"\nboard = \"b\"\nlimit = \"260C\"\nheater = true\n[oven.output]\n"
	for text, want := range map[string]Output{
		"": {},
		"kind = \"ssr\"\nwindow = \"4s\"\nmains = \"60Hz\"\n": {Window: 4 * time.Second, MainsHz: 60},
		"kind = \"contactor\"\ndeadband = \"9F\"\nleast_on = \"0s\"\nleast_off = \"90s\"\n": {
			Contactor: true, Deadband: 5, LeastOff: 90 * time.Second},
	} {
		s, err := Parse("a", []byte(head+text))
		require.NoError(t, err, text)
		assert.Equal(t, want, *s.Ovens[0].Output)
	}
}

// TestTooLarge: a file beyond all reason is refused before it is read.
func TestTooLarge(t *testing.T) {
	_, err := Parse("a", []byte(strings.Repeat("# x\n", 70000)))
	assert.ErrorContains(t, err, "larger than 256 KiB")
	_, err = Load(filepath.Join(shelf, "good/none.toml"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// TestModbusWords: each word that the file takes is one that the reader of modules knows.
func TestModbusWords(t *testing.T) {
	for _, ch := range full(t).Board("module").Channels {
		kind, err := modbus.ParseType(ch.Type)
		require.NoError(t, err)
		order, err := modbus.ParseOrder(ch.WordOrder)
		require.NoError(t, err)
		assert.NoError(t, modbus.Format{Type: kind, Order: order, Scale: ch.Scale,
			Low: float64(ch.Low), High: float64(ch.High)}.Check())
		assert.NoError(t, modbus.Request{Unit: byte(ch.Address),
			Function: modbus.Function(ch.Function), Register: uint16(ch.Register),
			Count: uint16(kind.Registers())}.Check())
	}
	const head = "[[board]]\nname = \"m\"\nkind = \"modbus\"\nport = \"x\"\n[[board.channel]]\n" +
		"address = 1\nregister = 0\nscale = 1\nunit = \"C\"\n"
	for _, w := range []string{"int16", "uint16", "int32", "uint32", "float32"} {
		_, err := Parse("a", []byte(head+"type = \""+w+"\"\n"))
		assert.NoError(t, err)
		_, err = modbus.ParseType(w)
		assert.NoError(t, err)
	}
	for _, w := range []string{"ABCD", "CDAB", "BADC", "DCBA"} {
		_, err := Parse("a", []byte(head+"word_order = \""+w+"\"\n"))
		assert.NoError(t, err)
		_, err = modbus.ParseOrder(w)
		assert.NoError(t, err)
	}
}

func TestDates(t *testing.T) {
	d := func(s string) Date {
		v, err := ParseDate(s)
		require.NoError(t, err)
		return v
	}
	assert.Equal(t, 12, d("2026-11-25").Since(d("2026-11-13")))
	assert.Equal(t, 1, d("2024-03-01").Since(d("2024-02-29")))
	assert.Equal(t, 366, d("2025-01-01").Since(d("2024-01-01")))
	assert.Equal(t, -1, d("2026-12-31").Since(d("2027-01-01")))
	assert.Equal(t, "2026-01-02", d("2026-01-02").String())
	assert.Equal(t, d("2026-01-02"), DateOf(time.Date(2026, 1, 2, 23, 59, 0, 0,
		time.FixedZone("", -5*3600))))
	assert.Equal(t, "", Date{}.String())
	for _, bad := range []string{"", "2026-1-2", "1999-12-31", "2200-01-01", "26-01-02", "today"} {
		_, err := ParseDate(bad)
		assert.ErrorContains(t, err, "write it as 2026-11-25", bad)
	}
}

// TestHooksAreProgramsByTheirWholePath: arguments as they stand, and no shell's line.
func TestHooksAreProgramsByTheirWholePath(t *testing.T) {
	s, err := Parse("shop.toml", []byte(`on_alarm = ["/bin/ring", "a b", ""]`))
	require.NoError(t, err)
	require.Equal(t, []string{"/bin/ring", "a b", ""}, s.OnAlarm)
	require.Empty(t, s.OnDone)
	for _, bad := range []string{`on_done = "/bin/ring"`, `on_done = []`, `on_done = ["ring"]`,
		`on_done = ["/bin/ring", 3]`} {
		_, err := Parse("shop.toml", []byte(bad))
		require.ErrorContains(t, err, "on_done", bad)
	}
}

// TestCallsAreOffUnlessGiven: each of the three for itself.
func TestCallsAreOffUnlessGiven(t *testing.T) {
	for _, c := range []struct {
		text                string
		bell, title, notify bool
	}{
		{"", false, false, false}, {"bell = true", true, false, false},
		{"title = true\nbell = false", false, true, false}, {"notify = true", false, false, true},
	} {
		s, err := Parse("shop.toml", []byte(c.text))
		require.NoError(t, err, c.text)
		assert.Equal(t, []bool{c.bell, c.title, c.notify}, []bool{s.Bell, s.Title, s.Notify}, c.text)
	}
}
