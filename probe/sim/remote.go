package sim

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"strconv"
	"strings"
	"sync"
	"time"
)

// RemoteLimit is the wall-clock time that an answer of a bench may take. A grant takes some
// milliseconds, and the bench waits for the host's bytes for 3 s.
const RemoteLimit = 5 * time.Second

// bench is what a simulated board answers to hello, with the version of the grants' lines.
const bench = "simulated strawline-bench 1"

// ErrNoBench says that what listens on a socket is no simulated board of ours.
var ErrNoBench = errors.New("no simulated board answers there")

// Remote grants time to a simulated board in another process, such as probe/firmware/bench, whose
// bytes go over a pseudo-terminal. Its Grant and Opened mean what those of Board do, and the
// lines on the socket stand in probe/firmware/bench/grants.c. All methods may be called from any
// goroutine; Close waits for a Grant under way.
type Remote struct {
	mu     sync.Mutex
	conn   net.Conn
	read   *bufio.Reader
	failed error // why it is of no use any more
}

// Dial reaches the simulated board that listens on the unix socket at path. The error wraps
// ErrNoBench if what answers is none, and the system's error if nothing does.
func Dial(path string) (*Remote, error) {
	conn, err := net.DialTimeout("unix", path, RemoteLimit)
	if err != nil {
		return nil, fmt.Errorf("reaching the simulated board at %s: %w", path, err)
	}
	r := &Remote{conn: conn, read: bufio.NewReaderSize(conn, 256)}
	said, err := r.ask("hello")
	if err == nil && said == bench {
		return r, nil
	}
	conn.Close()
	if err == nil {
		err = fmt.Errorf("it said %.40q", said)
	}
	return nil, fmt.Errorf("reaching the simulated board at %s: %w: %w", path, ErrNoBench, err)
}

// Grant has the board take the host's bytes until it has had sent of them in this opening, then
// advances it by 250 ms of simulated time, and gives the count of bytes that it has written to
// this opening. After an error every Grant fails.
func (r *Remote) Grant(sent uint64) (said uint64, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	answer, err := r.ask("grant " + strconv.FormatUint(sent, 10))
	if err != nil {
		return 0, fmt.Errorf("granting time to the simulated board: %w", err)
	}
	count, ok := strings.CutPrefix(answer, "said ")
	if said, err = strconv.ParseUint(count, 10, 64); !ok || err != nil {
		return 0, r.fail(fmt.Errorf("granting time to the simulated board: it said %.40q", answer))
	}
	return said, nil
}

// Opened tells the board that a host has opened the terminal: it restarts, and the counts of
// Grant begin at 0. Call it before the first write. If that fails, the next Grant says so.
func (r *Remote) Opened() {
	r.mu.Lock()
	defer r.mu.Unlock()
	if answer, err := r.ask("opened"); err == nil && answer != "reset" {
		r.fail(fmt.Errorf("resetting the simulated board: it said %.40q", answer))
	}
}

// Close ends the connection; the board's time stands still then. Closing again does nothing.
func (r *Remote) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if errors.Is(r.failed, ErrClosed) {
		return nil
	}
	r.failed = ErrClosed
	return r.conn.Close()
}

// ask sends a line and gives the line that answers it.
func (r *Remote) ask(line string) (string, error) {
	if r.failed != nil {
		return "", r.failed
	}
	err := r.conn.SetDeadline(time.Now().Add(RemoteLimit))
	if err == nil {
		_, err = r.conn.Write([]byte(line + "\n"))
	}
	if err != nil {
		return "", r.fail(err)
	}
	answer, err := r.read.ReadSlice('\n')
	if err != nil {
		return "", r.fail(err)
	}
	said := strings.TrimSuffix(string(answer), "\n")
	if why, is := strings.CutPrefix(said, "error "); is {
		return "", r.fail(errors.New(why))
	}
	return said, nil
}

func (r *Remote) fail(err error) error {
	r.failed = err
	return err
}
