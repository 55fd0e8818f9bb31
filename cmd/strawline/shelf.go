package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"strawline/profiles"
)

// mostProfileBytes is the largest profile file that is read.
const mostProfileBytes = 1 << 20

// shelved is a profile and where it came from.
type shelved struct {
	*profiles.Profile
	file string // "" if it is built in
}

// shelf is all profiles that a person can name: the built-in ones and those of the user's
// folder. A file that cannot be used is kept as the fault that says why.
type shelf struct {
	kept    []shelved
	refused []refusal
}

type refusal struct {
	file string
	why  *fault
}

// profileFolder is where the user's profiles are, by the XDG base directory specification.
func (h *host) profileFolder() string {
	config := h.getenv("XDG_CONFIG_HOME")
	if !filepath.IsAbs(config) { // the specification says to ignore a relative one
		config = filepath.Join(h.getenv("HOME"), ".config")
	}
	return filepath.Join(config, "strawline", "profiles")
}

// shelf reads all profiles. A missing folder is an empty one.
func (h *host) shelf() (*shelf, error) {
	s := &shelf{}
	for _, name := range profiles.Names() {
		p, err := profiles.Builtin(name)
		if err != nil {
			return nil, &fault{code: exitBug, wrong: err}
		}
		s.kept = append(s.kept, shelved{Profile: p})
	}
	folder := h.profileFolder()
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fileFault("read", folder, err)
	}
	for _, e := range entries {
		if e.IsDir() || filepath.Ext(e.Name()) != ".toml" || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		s.add(filepath.Join(folder, e.Name()))
	}
	return s, nil
}

// add puts a file's profile on the shelf, or the file among the refused.
func (s *shelf) add(file string) {
	p, err := readProfile(file)
	if err == nil {
		if i := s.index(p.Name); i >= 0 {
			err = &fault{
				code: exitData, did: "read", to: file,
				wrong: fmt.Errorf("its name %s is that of %s", p.Name, s.kept[i].file),
				help:  "give it another",
			}
		}
	}
	if err != nil {
		s.refused = append(s.refused, refusal{file, asFault(err)})
		return
	}
	s.kept = append(s.kept, shelved{Profile: p, file: file})
}

func (s *shelf) index(name string) int {
	return slices.IndexFunc(s.kept, func(p shelved) bool { return p.Name == name })
}

// profile finds a profile by its name, or reads the file if name is a path: something with a
// slash in it or .toml at its end.
func (h *host) profile(name string) (shelved, error) {
	if strings.ContainsRune(filepath.ToSlash(name), '/') || strings.HasSuffix(name, ".toml") {
		p, err := readProfile(name)
		return shelved{Profile: p, file: name}, err
	}
	s, err := h.shelf()
	if err != nil {
		return shelved{}, err
	}
	if i := s.index(name); i >= 0 {
		return s.kept[i], nil
	}
	var yours []string
	for _, p := range s.kept {
		yours = append(yours, p.Name)
	}
	for _, r := range s.refused {
		stem := strings.TrimSuffix(filepath.Base(r.file), ".toml")
		if stem == name {
			return shelved{}, r.why
		}
	}
	help := "strawline profiles list has them"
	if near := profiles.Suggest(name, yours...); near != "" {
		help = "did you mean " + near + "?"
	}
	return shelved{}, &fault{
		code: exitNoInput, did: "find", to: fmt.Sprintf("profile %q", name),
		wrong: errors.New("there is none of that name"), help: help,
	}
}

// readProfile reads one file. A file may not take the name of a built-in profile, because
// the same word would then mean different heat in two shops.
func readProfile(file string) (*profiles.Profile, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, fileFault("read", file, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, mostProfileBytes+1))
	if err != nil {
		return nil, fileFault("read", file, err)
	}
	if len(data) > mostProfileBytes {
		return nil, &fault{
			code: exitData, did: "read", to: file,
			wrong: fmt.Errorf("more than %d bytes are no profile", mostProfileBytes),
		}
	}
	p, err := profiles.Parse(file, data)
	if err != nil {
		return nil, &fault{code: exitData, wrong: err}
	}
	if slices.Contains(profiles.Names(), p.Name) {
		return nil, &fault{
			code: exitData, did: "read", to: file,
			wrong: fmt.Errorf("its name %s is that of a built-in profile", p.Name),
			help:  "give it another",
		}
	}
	return p, nil
}

// fileFault says in our words why a file could not be read or written.
func fileFault(did, file string, err error) *fault {
	f := &fault{code: exitIO, did: did, to: file, wrong: err}
	var in *fs.PathError
	if errors.As(err, &in) {
		f.wrong = in.Err
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		f.code, f.wrong = exitNoInput, errors.New("there is no such file")
	case errors.Is(err, fs.ErrPermission):
		f.code, f.wrong = exitNoRight, fmt.Errorf("no right to %s it", did)
	case errors.Is(err, fs.ErrExist):
		f.code, f.wrong = exitCannotMake, errors.New("it exists already")
		f.help = "name another, or take it away first"
	}
	return f
}
