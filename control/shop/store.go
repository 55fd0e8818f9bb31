package shop

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Load reads the shop file at path. The error is a *Problem or the system's.
func Load(path string) (*Shop, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading shop file: %w", err)
	}
	return Parse(path, data)
}

// FoundPath gives where the found.toml of a shop file is: beside it.
func FoundPath(shopFile string) string {
	return filepath.Join(filepath.Dir(shopFile), "found.toml")
}

// Store is a found.toml on disk. All that is written goes through it.
type Store struct {
	path   string
	rename func(from, to string) error
}

// NewStore gives the store of the found.toml at path, which need not be there yet.
func NewStore(path string) *Store { return &Store{path: path, rename: os.Rename} }

// Load reads the file; one that is not there is empty. It takes no lock, because the file is only
// ever replaced whole. The error is a *Problem or the system's.
func (s *Store) Load() (Found, error) {
	data, err := os.ReadFile(s.path)
	if errors.Is(err, fs.ErrNotExist) {
		return Found{}, nil
	}
	if err != nil {
		return Found{}, fmt.Errorf("reading found file: %w", err)
	}
	return ParseFound(s.path, data)
}

// Update reads the file, lets change alter what was found and writes it whole: into a file beside
// it that then takes its name, so that a crash leaves the old file or the new one. A lock on a
// file beside it, held from reading to renaming, makes writers wait for each other; the lock goes
// with the process that held it. Update may thus block while another process writes, and has no
// place in a control loop. A file that cannot be read is left as it is, and its *Problem given;
// an error of change is given and nothing is written.
func (s *Store) Update(change func(*Found) error) (err error) {
	path := s.path
	// A file that is a link into someone's collection of settings stays one.
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("making the folder of the found file: %w", err)
	}
	unlock, err := takeLock(path + ".lock")
	if err != nil {
		return fmt.Errorf("locking found file: %w", err)
	}
	defer func() { err = errors.Join(err, unlock()) }()
	f, err := s.Load()
	if err != nil {
		return err
	}
	if err := change(&f); err != nil {
		return err
	}
	text, err := f.Bytes()
	if err != nil {
		return fmt.Errorf("not written, because it could not be read back: %w", err)
	}
	if err := s.replace(path, text); err != nil {
		return fmt.Errorf("writing found file: %w", err)
	}
	return nil
}

// replace writes text beside path and renames it. The name beside it is always the same: the lock
// keeps other writers away, and what a crash left there is written over.
func (s *Store) replace(path string, text []byte) error {
	beside := path + ".new"
	if err := writeSynced(beside, text); err != nil {
		return err
	}
	if err := s.rename(beside, path); err != nil {
		return errors.Join(err, os.Remove(beside))
	}
	return syncFolder(filepath.Dir(path))
}

func writeSynced(path string, text []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}
