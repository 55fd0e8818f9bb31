package sim

import (
	"io/fs"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPull: without its cable the board has no power; plugged in again it starts anew.
func TestPull(t *testing.T) {
	b := New(Config{})
	m, err := b.Memory()
	require.NoError(t, err)
	c, err := m.Open()
	require.NoError(t, err)
	b.Opened()
	boots := b.keep.boots
	b.Pull(true)
	_, err = b.Grant(0)
	require.NoError(t, err)
	_, err = c.Read(make([]byte, 8))
	require.Error(t, err)
	_, err = m.Open()
	require.ErrorIs(t, err, fs.ErrNotExist)
	b.Pull(false)
	_, err = b.Grant(0)
	require.NoError(t, err)
	_, err = m.Open()
	require.NoError(t, err)
	assert.Equal(t, boots+1, b.keep.boots)
}

// TestClosed: a board whose host has gone counts no bytes of it any more.
func TestClosed(t *testing.T) {
	b := New(Config{})
	m, err := b.Memory()
	require.NoError(t, err)
	c, err := m.Open()
	require.NoError(t, err)
	b.Opened()
	_, err = c.Write([]byte("\r\n"))
	require.NoError(t, err)
	_, err = b.Grant(2)
	require.NoError(t, err)
	_, err = b.Grant(0)
	require.Error(t, err)
	require.NoError(t, c.Close())
	b.Closed()
	said, err := b.Grant(0)
	require.NoError(t, err)
	assert.Zero(t, said)
}
