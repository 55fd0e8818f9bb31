package attach

import (
	"errors"
	"fmt"
)

// ErrNobody says that no keeper answers on a socket.
var ErrNobody = errors.New("no keeper answers")

// ErrTaken says that another keeper serves the same socket.
var ErrTaken = errors.New("another keeper serves this shop file")

// ErrInTheWay says that something that is no socket has the socket's name.
var ErrInTheWay = errors.New("something that is no socket stands in its way")

// ErrLong says that a path is too long for the system's sockets.
var ErrLong = errors.New("the path is too long for a socket")

// ErrFolder says that the socket's folder is not its owner's alone.
var ErrFolder = errors.New("the folder is not yours alone")

// ErrVersion says that the other side is of another version.
var ErrVersion = errors.New("the keeper is of another version of the program")

// ErrDropped says that a screen was too slow and was left.
var ErrDropped = errors.New("the screen took nothing for too long")

// LongestPath is the longest path of a socket, in bytes: the kernel's address has 108 on Linux and
// 104 on macOS, one of them for the NUL at its end (unix(7); macOS: from memory).
const LongestPath = 103

func checkPath(path string) error {
	if len(path) > LongestPath {
		return fmt.Errorf("%w: %s has %d bytes, where %d may be; set XDG_STATE_HOME to a shorter "+
			"folder", ErrLong, path, len(path), LongestPath)
	}
	return nil
}
