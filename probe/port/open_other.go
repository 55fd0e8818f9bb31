//go:build !linux && !darwin

package port

import "io"

// takeGuard takes no lock of our own: Windows opens a serial port for one process only,
// and there is no account that this does not bind.
func takeGuard(string) (io.Closer, error) { return noGuard{}, nil }

type noGuard struct{}

func (noGuard) Close() error { return nil }

func deniedHelp(string) string {
	return "you have no right to open it, or another program has it: end that program"
}
