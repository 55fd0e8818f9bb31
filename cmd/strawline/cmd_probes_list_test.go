//go:build linux

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"strawline/probe/port"
)

// portTree is a made-up file system with one adapter; its name needs care on a terminal.
func portTree(t *testing.T) string {
	root := t.TempDir()
	usb := filepath.Join(root, "sys/devices/usb1/1-2")
	for name, text := range map[string]string{
		"idVendor": "1a86\n", "idProduct": "7523\n", "product": "USB \x1b[31mSerial\n",
		"1-2:1.0/ttyUSB0/tty/ttyUSB0/uevent": "", "../../../../dev/ttyUSB0": "",
		"../../../../proc/41/comm": "strawline\n",
	} {
		full := filepath.Join(usb, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o755))
		require.NoError(t, os.WriteFile(full, []byte(text), 0o600))
	}
	for at, to := range map[string]string{
		"sys/class/tty/ttyUSB0":                                   "../../devices/usb1/1-2/1-2:1.0/ttyUSB0/tty/ttyUSB0",
		"sys/devices/usb1/1-2/1-2:1.0/ttyUSB0/tty/ttyUSB0/device": "../../../ttyUSB0",
		"sys/devices/usb1/1-2/1-2:1.0/ttyUSB0/driver":             "../../../../../bus/ch341-uart",
		"dev/serial/by-path/pci-usb-0:2":                          "../../ttyUSB0",
		"dev/oven":                                                "ttyUSB0",
		"proc/41/fd/3":                                            "/dev/ttyUSB0",
	} {
		full := filepath.Join(root, at)
		require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o755))
		require.NoError(t, os.Symlink(to, full))
	}
	return root
}

const listShop = `[[board]]
name = "temper"
kind = "lines"
port = "/dev/oven"
`

func TestProbesListOfAMadeUpMachine(t *testing.T) {
	root := portTree(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "shop.toml")
	require.NoError(t, os.WriteFile(path, []byte(listShop), 0o600))
	var out, bad strings.Builder
	h := &host{out: &out, err: &bad, env: []string{"HOME=" + dir}}
	require.NoError(t, h.list(&listFlags{shop: path}, root))
	require.Empty(t, bad.String())
	rows := strings.Split(out.String(), "\n")
	require.Len(t, rows, 4, out.String())
	for _, column := range []string{"/dev/serial/by-path/pci-usb-0:2", "/dev/ttyUSB0",
		`USB \x1B[31mSerial (1a86:7523, ch341-uart)`, "yes, in group ", "strawline (41)", "temper"} {
		require.Contains(t, rows[1], column)
	}
	require.Equal(t, strings.Index(rows[0], "board"), strings.Index(rows[1], "temper"), "aligned")
	require.Contains(t, rows[2], "no serial number")
	require.NotContains(t, out.String(), "proved", "a sketch has no heat to take away")

	out.Reset()
	require.NoError(t, h.list(&listFlags{shop: path, json: true}, root))
	var answer struct{ Ports []map[string]any }
	require.NoError(t, json.Unmarshal([]byte(out.String()), &answer))
	require.Len(t, answer.Ports, 1)
	p := answer.Ports[0]
	require.Equal(t, "/dev/serial/by-path/pci-usb-0:2", p["name"])
	require.Equal(t, "/dev/ttyUSB0", p["node"])
	require.Equal(t, "1a86", p["vendor_id"])
	require.Equal(t, "temper", p["board"], "by the node that /dev/oven leads to")
	require.Equal(t, true, p["may_open"])
	require.NotContains(t, p, "serial_number")
	require.NotContains(t, p, "proof")

	ours := strings.Replace(listShop, `"lines"`, `"strawline board"`, 1)
	require.NoError(t, os.WriteFile(path, []byte(ours), 0o600))
	out.Reset()
	require.NoError(t, h.list(&listFlags{shop: path}, root))
	require.Contains(t, out.String(), "    limit and dead man never proved: strawline probes proof\n")
	require.Equal(t, []any{map[string]any{"pid": 41.0, "program": "strawline"}}, p["open_in"])
}

func TestProbesListWithoutPorts(t *testing.T) {
	root := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(root, "sys/class/tty"), 0o755))
	var out, bad strings.Builder
	h := &host{out: &out, err: &bad, env: []string{"HOME=" + root}}
	require.NoError(t, h.list(&listFlags{}, root))
	require.Contains(t, out.String(), "no ports: ")
	require.Contains(t, out.String(), "only charges")
	out.Reset()
	require.NoError(t, h.list(&listFlags{json: true}, root))
	require.Equal(t, `{"ports":[]}`+"\n", out.String())
	require.Empty(t, bad.String())

	require.Equal(t, exitUnavailable, asFault(h.list(&listFlags{}, t.TempDir())).code)
	_, err := onlyPort(root)
	require.ErrorContains(t, err, "there is none")
	name, err := onlyPort(portTree(t))
	require.NoError(t, err)
	require.Equal(t, "/dev/serial/by-path/pci-usb-0:2", name)

	// A shop file that nobody named and that is wrong does not stand in the way.
	at := h.shopPath("")
	require.NoError(t, os.MkdirAll(filepath.Dir(at), 0o755))
	require.NoError(t, os.WriteFile(at, []byte("unit = 1"), 0o600))
	require.NoError(t, h.list(&listFlags{}, root))
	require.Contains(t, bad.String(), "the shop file is left out: ")
	require.Equal(t, exitData, asFault(h.list(&listFlags{shop: at}, root)).code)
}

func TestOpenTextClaimsNoMoreThanWasSeen(t *testing.T) {
	for _, c := range []struct {
		open port.Holders
		want string
	}{
		{port.Holders{}, "cannot tell"},
		{port.Holders{Own: true}, "none of yours"},
		{port.Holders{Own: true, All: true}, "none"},
		{port.Holders{Processes: []port.Process{{PID: 7, Program: "cat"}}}, "cat (7)"},
	} {
		require.Equal(t, c.want, listed(port.Found{Open: c.open}, nil).openText())
	}
}

func TestProbesListOfThisMachine(t *testing.T) {
	p := newPerson(t)
	answer := p.answer(exitOK, "probes", "list", "--json")
	require.Contains(t, answer, "ports")
	require.NotNil(t, answer["ports"])
}
