//go:build linux || darwin

package port

import (
	"os"
	"os/user"
	"slices"
	"strconv"
	"syscall"

	"golang.org/x/sys/unix"
)

// rights asks the system whether this process may read and write a node, without opening it.
func rights(path string) Rights {
	r := Rights{May: unix.Access(path, unix.R_OK|unix.W_OK) == nil}
	gid, ok := groupOf(path)
	if !ok {
		return r
	}
	r.Group = "number " + strconv.Itoa(gid)
	if g, err := user.LookupGroupId(strconv.Itoa(gid)); err == nil {
		r.Group = g.Name
	}
	mine, _ := os.Getgroups() // it fails for no process that is alive
	r.In = os.Getegid() == gid || slices.Contains(mine, gid)
	if r.May {
		return r
	}
	r.Help = deniedHelp(path)
	if me, err := user.Current(); err == nil && !r.In {
		// The groups of a session are those at its beginning.
		if all, err := me.GroupIds(); err == nil && slices.Contains(all, strconv.Itoa(gid)) {
			r.Help = "you have joined the group " + r.Group + " since you logged in: log in again"
		}
	}
	return r
}

func groupOf(path string) (gid int, ok bool) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, false
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return int(st.Gid), true
}
