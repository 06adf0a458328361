package choose

import "os"

// draws is how many questions a test draws: few in the ordinary tests, all of them
// where FETTLE_DRAWS is set, as `make campaign` does. Seeds run from the same start,
// so that the few are the first of all.
func draws(few, all int) int {
	if os.Getenv("FETTLE_DRAWS") != "" {
		return all
	}
	return few
}
