// Strawline watches over the heat of steel that is treated by hand. This package wires the
// rooms together, one file a command.
package main

import (
	"context"
	"os"

	"strawline/cmd/strawline/early"
)

func main() {
	early.Restore()
	os.Exit(run(context.Background(), os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Environ()))
}
