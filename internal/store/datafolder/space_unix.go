//go:build linux || darwin

package datafolder

import "syscall"

// space is how many bytes whoever runs the program may still write below a folder.
func space(dir string) (free uint64, known bool, err error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return 0, true, err
	}
	return st.Bavail * uint64(st.Bsize), true, nil
}
