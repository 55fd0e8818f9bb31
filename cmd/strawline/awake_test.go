//go:build linux || darwin

package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestAwake: the inhibitor's child lives exactly as long as a run does; where it is absent or
// refuses, that is said once and nothing else happens.
func TestAwake(t *testing.T) {
	dir := t.TempDir()
	mark := filepath.Join(dir, "holds")
	fake := func(script string) func(string) (string, error) {
		path := filepath.Join(dir, "fake")
		require.NoError(t, os.WriteFile(path, []byte("#!/bin/sh\n"+script), 0o700))
		return func(name string) (string, error) {
			require.Equal(t, inhibitor, name)
			return path, nil
		}
	}
	var said []string
	a := &awake{say: func(s string) { said = append(said, s) },
		find: fake("touch " + mark + "; cat; rm " + mark + "\n")}
	a.want(false)
	require.Nil(t, a.held)
	a.want(true)
	require.Eventually(t, func() bool { _, err := os.Stat(mark); return err == nil }, patience, 5e6)
	a.want(true)
	a.want(false)
	require.NoFileExists(t, mark)
	require.Empty(t, said)

	a.find = fake("echo 'Access denied' >&2; exit 1\n")
	require.Eventually(t, func() bool { a.want(true); return len(said) > 0 }, patience, 5e6)
	a.want(true)
	require.Equal(t, []string{"the computer is not kept from sleeping: Access denied"}, said)
	require.Nil(t, a.held)

	said = nil
	a = &awake{say: a.say, find: func(string) (string, error) { return "", os.ErrNotExist }}
	a.want(true)
	a.want(true)
	require.Len(t, said, 1)
	require.Contains(t, said[0], "no systemd-inhibit")
}
