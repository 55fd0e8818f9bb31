//go:build !linux && !darwin

package port

// List gives ErrCannotList here: no way is known to list ports without opening them.
func List(string) ([]Found, error) { return nil, ErrCannotList }
