//go:build !linux && !darwin

package sim

// Pty gives ErrNoPty: this system has none that we know to drive.
func (b *Board) Pty(dir string) (path string, err error) { return "", ErrNoPty }
