package port

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// ErrCannotList says that this system has no way to list ports without opening them.
var ErrCannotList = errors.New("ports cannot be listed on this system without opening them")

// Found is one serial port that a system has. It was found without opening it.
type Found struct {
	Name  string   // to call it by: as stable as the system has it
	Why   string   // why no better name; "" if Name stays with the adapter itself
	Node  string   // the device node, such as /dev/ttyUSB0
	Names []string // every name, Name first and Node among them
	USB   *USB     // nil if it is not behind USB, or the system does not say
	// Driver is the kernel's name of what drives it, "" if the system does not say.
	Driver string
	Rights Rights
	Open   Holders
}

// USB is what an adapter says of itself; what it does not say is "".
type USB struct {
	Vendor, Product uint16 // numbers, hexadecimal as people write them
	Maker, Model    string
	Serial          string
}

// Rights say who may open a port.
type Rights struct {
	May   bool   // this process may
	Group string // of the node; "" if the system does not say
	In    bool   // this process is in Group
	Help  string // what to do; "" if May
}

// Holders are those of the processes that could be looked into that have a port open.
type Holders struct {
	Processes []Process
	// Own says that every process of one's own was looked into, All that every process of the
	// machine was. Without Own nothing can be told.
	Own, All bool
}

// Process is a program that runs.
type Process struct {
	PID     int
	Program string
}

// What says in a few words what a port is.
func (f Found) What() string {
	if f.USB == nil {
		if f.Driver != "" {
			return "built in (" + f.Driver + ")"
		}
		return "serial port"
	}
	name := strings.TrimSpace(f.USB.Maker + " " + f.USB.Model)
	if strings.HasPrefix(f.USB.Model, f.USB.Maker) {
		name = f.USB.Model
	}
	if name == "" {
		name = "USB adapter"
	}
	id := fmt.Sprintf("%04x:%04x", f.USB.Vendor, f.USB.Product)
	if f.Driver != "" {
		id += ", " + f.Driver
	}
	return name + " (" + id + ")"
}

// byNode puts ports into the order of their nodes, ttyUSB2 before ttyUSB10.
func byNode(a, b Found) int {
	return cmp.Or(cmp.Compare(strings.TrimRight(a.Node, "0123456789"),
		strings.TrimRight(b.Node, "0123456789")),
		cmp.Compare(len(a.Node), len(b.Node)), cmp.Compare(a.Node, b.Node))
}

// call chooses the name of a port out of those that the system made by what the adapter says
// of itself and by where it is plugged in. Alike says that another adapter says the same.
func (f *Found) call(byID, byPath []string, alike bool) {
	f.Names = append(slices.Clone(byID), byPath...)
	f.Names = append(f.Names, f.Node)
	switch {
	case f.USB == nil && len(byID) == 0:
		f.Name = f.Node // a port of the machine itself keeps its number
		f.Names = append([]string{f.Node}, byPath...)
		return
	case len(byID) > 0 && (f.USB == nil || f.USB.Serial != "" && !alike):
		f.Name = byID[0]
		return
	case f.USB.Serial == "":
		f.Why = "it has no serial number, so another of its kind would take the same name"
	case alike:
		f.Why = "another adapter says the same of itself"
	default:
		f.Why = "the system made no name by what it is"
	}
	if len(byPath) > 0 {
		f.Name = byPath[0]
		f.Why += ": this name is that of the socket it is plugged into"
	} else {
		f.Name = f.Node
		f.Why += ", nor is there one by its socket: this one may change when it is plugged again"
	}
	f.Names = slices.Insert(slices.DeleteFunc(f.Names, func(n string) bool {
		return n == f.Name
	}), 0, f.Name)
}
