package port

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
)

// List gives the serial ports of the system whose file system begins at root, "/" but in tests.
// It only reads the names that udev made (/dev/serial), sysfs (/sys/class/tty) and the links of
// open files (/proc); no port is opened, since that starts most boards again. An error says
// which folder could not be read.
func List(root string) ([]Found, error) {
	class := filepath.Join(root, "sys/class/tty")
	entries, err := os.ReadDir(class)
	if err != nil {
		return nil, fmt.Errorf("listing ports: %w", err)
	}
	byID := names(root, "dev/serial/by-id")
	byPath := names(root, "dev/serial/by-path")
	holders := lookForHolders(root)
	var out []Found
	var devices []string
	for _, e := range entries {
		dir, ok := hardware(filepath.Join(class, e.Name()))
		node := "/dev/" + e.Name()
		if _, err := os.Stat(filepath.Join(root, node)); !ok || err != nil {
			continue
		}
		f := Found{Node: node, Driver: linkBase(filepath.Join(dir, "driver")),
			Rights: rights(filepath.Join(root, node)), Open: holders.of(node)}
		var device string
		f.USB, device = usbOf(dir, filepath.Join(root, "sys"))
		out, devices = append(out, f), append(devices, device)
	}
	for i := range out {
		alike := false
		for j := range out {
			alike = alike || out[i].USB != nil && out[j].USB != nil && devices[i] != devices[j] &&
				out[i].USB.Vendor == out[j].USB.Vendor && out[i].USB.Product == out[j].USB.Product &&
				out[i].USB.Serial == out[j].USB.Serial
		}
		out[i].call(byID[out[i].Node], byPath[out[i].Node], alike)
	}
	slices.SortFunc(out, byNode)
	return out, nil
}

// adapterOf says what the USB adapter behind a port's name says of itself, "" where none is known.
// It only reads sysfs below root.
func adapterOf(root, path string) string {
	node, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	dir, ok := hardware(filepath.Join(root, "sys/class/tty", filepath.Base(node)))
	if !ok {
		return ""
	}
	f := Found{Driver: linkBase(filepath.Join(dir, "driver"))}
	if f.USB, _ = usbOf(dir, filepath.Join(root, "sys")); f.USB == nil {
		return ""
	}
	if f.USB.Serial == "" {
		return f.What()
	}
	return f.What() + ", serial number " + f.USB.Serial
}

// names reads a folder of links and gives them by the node that each leads to, in order.
func names(root, folder string) map[string][]string {
	out := map[string][]string{}
	// Without udev, or without any adapter, the folder is not there: then there are no names.
	entries, _ := os.ReadDir(filepath.Join(root, folder))
	for _, e := range entries {
		if node := linkBase(filepath.Join(root, folder, e.Name())); node != "" {
			out["/dev/"+node] = append(out["/dev/"+node], "/"+folder+"/"+e.Name())
		}
	}
	return out
}

// linkBase gives the last part of what a link leads to, "" if there is no link.
func linkBase(path string) string {
	to, err := os.Readlink(path)
	if err != nil {
		return ""
	}
	return filepath.Base(to)
}

// hardware gives the folder of the device behind a tty. Virtual ones have none, and a port of
// the old kind that the kernel only keeps a number for has the type 0 (unknown).
func hardware(tty string) (dir string, ok bool) {
	dir, err := filepath.EvalSymlinks(filepath.Join(tty, "device"))
	if err != nil {
		return "", false
	}
	real, err := filepath.EvalSymlinks(tty)
	if err != nil {
		return "", false
	}
	return dir, attribute(real, "type") != "0"
}

// attribute reads one line of sysfs, "" if there is none.
func attribute(dir, name string) string {
	const most = 4096 // a page, as sysfs gives
	text, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil || len(text) > most {
		return ""
	}
	return strings.TrimSpace(strings.ToValidUTF8(string(text), "?"))
}

// usbOf looks for the USB device that dir is part of; device is its folder, "" if none.
func usbOf(dir, sys string) (u *USB, device string) {
	for within(dir, sys) {
		vendor, err := strconv.ParseUint(attribute(dir, "idVendor"), 16, 16)
		if err == nil {
			product, _ := strconv.ParseUint(attribute(dir, "idProduct"), 16, 16)
			return &USB{Vendor: uint16(vendor), Product: uint16(product),
				Maker: attribute(dir, "manufacturer"), Model: attribute(dir, "product"),
				Serial: attribute(dir, "serial")}, dir
		}
		dir = filepath.Dir(dir)
	}
	return nil, ""
}

func within(dir, of string) bool {
	if real, err := filepath.EvalSymlinks(of); err == nil {
		of = real
	}
	return strings.HasPrefix(dir, strings.TrimSuffix(of, "/")+"/")
}

// held says which processes have which files open.
type held struct {
	by       map[string][]Process
	own, all bool
}

func (h held) of(node string) Holders {
	return Holders{Processes: h.by[node], Own: h.own, All: h.all}
}

// lookForHolders reads the links of the open files of every process that may be looked into;
// those are one's own, and all for root.
func lookForHolders(root string) held {
	h := held{by: map[string][]Process{}}
	proc := filepath.Join(root, "proc")
	entries, err := os.ReadDir(proc)
	if err != nil {
		return h
	}
	h.own, h.all = true, true
	for _, e := range entries {
		pid, err := strconv.Atoi(e.Name())
		if err != nil {
			continue
		}
		dir := filepath.Join(proc, e.Name())
		files, err := os.ReadDir(filepath.Join(dir, "fd"))
		if errors.Is(err, fs.ErrNotExist) {
			continue // it has ended meanwhile
		}
		if err != nil {
			h.all = false
			h.own = h.own && !ours(dir)
			continue
		}
		for _, f := range files {
			to, err := os.Readlink(filepath.Join(dir, "fd", f.Name()))
			if err != nil || !strings.HasPrefix(to, "/dev/") {
				continue
			}
			p := Process{PID: pid, Program: attribute(dir, "comm")}
			if !slices.Contains(h.by[to], p) {
				h.by[to] = append(h.by[to], p)
			}
		}
	}
	return h
}

// ours tells whether a file belongs to the person who runs this process.
func ours(path string) bool {
	info, err := os.Stat(path)
	if err != nil {
		return false
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(st.Uid) == os.Geteuid()
}
