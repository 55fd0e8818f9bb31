package port

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// tree is a made-up file system, laid out as the kernel and udev do it.
type tree struct {
	t    *testing.T
	root string
}

func (tr tree) file(path, text string) {
	tr.t.Helper()
	full := filepath.Join(tr.root, path)
	require.NoError(tr.t, os.MkdirAll(filepath.Dir(full), 0o755))
	require.NoError(tr.t, os.WriteFile(full, []byte(text), 0o600))
}

func (tr tree) link(path, to string) {
	tr.t.Helper()
	full := filepath.Join(tr.root, path)
	require.NoError(tr.t, os.MkdirAll(filepath.Dir(full), 0o755))
	require.NoError(tr.t, os.Symlink(to, full))
}

// tty puts a tty below a device and makes its node; extra is where the device's own folder is.
func (tr tree) tty(name, device, driver string) {
	up := strings.Repeat("../", strings.Count(device, "/")+3)
	tr.file(device+"/tty/"+name+"/uevent", "")
	tr.link(device+"/tty/"+name+"/device", "../../../"+filepath.Base(device))
	tr.link("sys/class/tty/"+name, "../../../"+device+"/tty/"+name)
	tr.link(device+"/driver", up+"bus/usb/drivers/"+driver)
	tr.file("dev/"+name, "")
}

// usb makes a USB device.
func (tr tree) usb(device, vendor, product, maker, model, serial string) {
	tr.file(device+"/idVendor", vendor+"\n")
	tr.file(device+"/idProduct", product+"\n")
	for name, text := range map[string]string{"manufacturer": maker, "product": model,
		"serial": serial} {
		if text != "" {
			tr.file(device+"/"+name, text+"\n")
		}
	}
}

func (tr tree) byID(name, node string)   { tr.link("dev/serial/by-id/"+name, "../../"+node) }
func (tr tree) byPath(name, node string) { tr.link("dev/serial/by-path/"+name, "../../"+node) }

const bus = "sys/devices/pci0000:00/0000:00:14.0/usb1"

// shopTree has one adapter of every sort.
func shopTree(t *testing.T) tree {
	tr := tree{t, t.TempDir()}
	tr.usb(bus+"/1-1", "2341", "0043", "Arduino", "Arduino Uno", "85430")
	tr.tty("ttyACM0", bus+"/1-1/1-1:1.0", "cdc_acm")
	tr.byID("usb-Arduino_Uno_85430-if00", "ttyACM0")
	tr.byPath("pci-usb-0:1:1.0", "ttyACM0")

	tr.usb(bus+"/1-2", "1a86", "7523", "", "USB Serial", "")
	tr.tty("ttyUSB0", bus+"/1-2/1-2:1.0/ttyUSB0", "ch341-uart")
	tr.byID("usb-1a86_USB_Serial-if00-port0", "ttyUSB0")
	tr.byPath("pci-usb-0:2:1.0-port0", "ttyUSB0")

	for _, n := range []string{"3", "4"} { // alike: the later one took the name from the first
		tr.usb(bus+"/1-"+n, "10c4", "ea60", "Silicon Labs", "CP2102", "0001")
		tr.tty("ttyUSB"+n, bus+"/1-"+n+"/1-"+n+":1.0/ttyUSB"+n, "cp210x")
	}
	tr.byID("usb-Silicon_Labs_CP2102_0001-if00-port0", "ttyUSB4")
	tr.byPath("pci-usb-0:3:1.0-port0", "ttyUSB3")

	tr.usb(bus+"/1-5", "0403", "6010", "FTDI", "Dual", "FT1") // two ports of one adapter
	tr.tty("ttyUSB10", bus+"/1-5/1-5:1.0/ttyUSB10", "ftdi_sio")
	tr.tty("ttyUSB11", bus+"/1-5/1-5:1.1/ttyUSB11", "ftdi_sio")
	tr.byID("usb-FTDI_Dual_FT1-if00-port0", "ttyUSB10")
	tr.byID("usb-FTDI_Dual_FT1-if01-port0", "ttyUSB11")

	tr.tty("ttyS0", "sys/devices/platform/serial8250", "serial8250")
	tr.file("sys/devices/platform/serial8250/tty/ttyS0/type", "4\n")
	tr.tty("ttyS1", "sys/devices/platform/serial8250b", "serial8250")
	tr.file("sys/devices/platform/serial8250b/tty/ttyS1/type", "0\n")
	tr.file("sys/class/tty/tty0/dev", "4:0\n") // a virtual one
	tr.file("dev/tty0", "")
	tr.tty("ttyACM9", bus+"/1-9/1-9:1.0", "cdc_acm") // its node is gone
	require.NoError(t, os.Remove(filepath.Join(tr.root, "dev/ttyACM9")))
	return tr
}

func TestListNamesPorts(t *testing.T) {
	tr := shopTree(t)
	found, err := List(tr.root)
	require.NoError(t, err)
	var got [][3]string
	for _, f := range found {
		got = append(got, [3]string{f.Node, f.Name, f.Why})
		assert.Contains(t, f.Names, f.Node)
		assert.Equal(t, f.Name, f.Names[0])
	}
	const socket = ": this name is that of the socket it is plugged into"
	assert.Equal(t, [][3]string{
		{"/dev/ttyACM0", "/dev/serial/by-id/usb-Arduino_Uno_85430-if00", ""},
		{"/dev/ttyS0", "/dev/ttyS0", ""},
		{"/dev/ttyUSB0", "/dev/serial/by-path/pci-usb-0:2:1.0-port0",
			"it has no serial number, so another of its kind would take the same name" + socket},
		{"/dev/ttyUSB3", "/dev/serial/by-path/pci-usb-0:3:1.0-port0",
			"another adapter says the same of itself" + socket},
		{"/dev/ttyUSB4", "/dev/ttyUSB4", "another adapter says the same of itself, nor is there " +
			"one by its socket: this one may change when it is plugged again"},
		{"/dev/ttyUSB10", "/dev/serial/by-id/usb-FTDI_Dual_FT1-if00-port0", ""},
		{"/dev/ttyUSB11", "/dev/serial/by-id/usb-FTDI_Dual_FT1-if01-port0", ""},
	}, got)
	assert.Equal(t, "Arduino Uno (2341:0043, cdc_acm)", found[0].What())
	assert.Equal(t, "built in (serial8250)", found[1].What())
	assert.Equal(t, "USB Serial (1a86:7523, ch341-uart)", found[2].What())
	assert.Equal(t, "Silicon Labs CP2102 (10c4:ea60, cp210x)", found[3].What())
	assert.Equal(t, USB{0x0403, 0x6010, "FTDI", "Dual", "FT1"}, *found[5].USB)
}

// TestListOpensNothing watches every node of the tree for being opened.
func TestListOpensNothing(t *testing.T) {
	tr := shopTree(t)
	watch, err := unix.InotifyInit1(unix.IN_NONBLOCK | unix.IN_CLOEXEC)
	require.NoError(t, err)
	defer unix.Close(watch)
	nodes, err := filepath.Glob(filepath.Join(tr.root, "dev/tty*"))
	require.NoError(t, err)
	require.Len(t, nodes, 9)
	for _, n := range nodes {
		_, err := unix.InotifyAddWatch(watch, n, unix.IN_OPEN)
		require.NoError(t, err)
	}
	_, err = List(tr.root)
	require.NoError(t, err)
	buf := make([]byte, 4096)
	_, err = unix.Read(watch, buf)
	require.ErrorIs(t, err, unix.EAGAIN, "a node was opened")

	f, err := os.Open(nodes[0]) // the watch does see an opening
	require.NoError(t, err)
	defer f.Close()
	n, err := unix.Read(watch, buf)
	require.NoError(t, err)
	require.Positive(t, n)
}

func TestListTellsWhoHasAPortOpen(t *testing.T) {
	tr := shopTree(t)
	found, err := List(tr.root)
	require.NoError(t, err)
	require.False(t, found[0].Open.Own, "without /proc nothing can be told")

	tr.file("proc/41/comm", "strawline\n")
	tr.link("proc/41/fd/0", "/dev/null")
	tr.link("proc/41/fd/7", "/dev/ttyACM0")
	tr.link("proc/41/fd/8", "/dev/ttyACM0") // twice in one process is once
	tr.file("proc/42/comm", "cat\n")
	tr.link("proc/42/fd/3", "/dev/ttyACM0 (deleted)")
	tr.file("proc/self-made/comm", "")
	found, err = List(tr.root)
	require.NoError(t, err)
	require.Equal(t, Holders{[]Process{{41, "strawline"}}, true, true}, found[0].Open)
	require.Equal(t, Holders{nil, true, true}, found[1].Open)

	tr.file("proc/43/fd", "a folder that is none cannot be read")
	found, err = List(tr.root)
	require.NoError(t, err)
	require.False(t, found[1].Open.Own, "one's own process was not looked into")
	require.False(t, found[1].Open.All)
}

func TestListWithoutAnything(t *testing.T) {
	_, err := List(t.TempDir())
	require.ErrorContains(t, err, "listing ports: ")
	tr := tree{t, t.TempDir()}
	tr.file("sys/class/tty/tty0/dev", "4:0\n")
	found, err := List(tr.root)
	require.NoError(t, err)
	require.Empty(t, found)
}

func TestRightsSayWhatTheSystemSays(t *testing.T) {
	tr := shopTree(t)
	node := filepath.Join(tr.root, "dev/ttyS0")
	r := rights(node)
	require.True(t, r.May)
	require.True(t, r.In)
	require.NotEmpty(t, r.Group)
	require.Empty(t, r.Help)
	// A node that is not there is open to nobody, root included.
	r = rights(node + "0")
	require.False(t, r.May)
	require.Empty(t, r.Group)
}

// TestAdapterOf: what an adapter says of itself tells it from another; a name that stays leads to
// the same as the node.
func TestAdapterOf(t *testing.T) {
	tr := shopTree(t)
	of := func(path string) string { return adapterOf(tr.root, filepath.Join(tr.root, path)) }
	assert.Equal(t, "Arduino Uno (2341:0043, cdc_acm), serial number 85430", of("dev/ttyACM0"))
	assert.Equal(t, of("dev/ttyACM0"), of("dev/serial/by-id/usb-Arduino_Uno_85430-if00"))
	assert.Equal(t, "USB Serial (1a86:7523, ch341-uart)", of("dev/ttyUSB0"))
	assert.Equal(t, of("dev/ttyUSB3"), of("dev/ttyUSB4"), "they say the same")
	for _, none := range []string{"dev/ttyS0", "dev/tty0", "dev/ttyUSB77"} {
		assert.Empty(t, of(none), none)
	}
}
