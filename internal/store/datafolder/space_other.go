//go:build !linux && !darwin

package datafolder

// space is not known.
func space(string) (free uint64, known bool, err error) { return 0, false, nil }
