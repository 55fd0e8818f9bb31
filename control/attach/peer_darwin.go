package attach

import (
	"net"
	"os"

	"golang.org/x/sys/unix"
)

// sameUser asks the kernel who is at the other end. A connection that is no socket of the kernel's
// has no other user.
func sameUser(c net.Conn) bool {
	u, ok := c.(*net.UnixConn)
	if !ok {
		return true
	}
	raw, err := u.SyscallConn()
	if err != nil {
		return false
	}
	same := false
	err = raw.Control(func(fd uintptr) {
		cred, err := unix.GetsockoptXucred(int(fd), unix.SOL_LOCAL, unix.LOCAL_PEERCRED)
		same = err == nil && int(cred.Uid) == os.Geteuid()
	})
	return err == nil && same
}
