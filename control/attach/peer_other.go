//go:build !(linux || darwin)

package attach

import "net"

// sameUser relies on the folder's rights: the kernel is not asked here.
func sameUser(net.Conn) bool { return true }
