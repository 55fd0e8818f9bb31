//go:build !linux && !darwin

package port

// List gives ErrCannotList here: no way is known to list ports without opening them.
func List(string) ([]Found, error) { return nil, ErrCannotList }

// adapterOf says nothing here: what is behind a name cannot be told without opening it.
func adapterOf(root, path string) string { return "" }
