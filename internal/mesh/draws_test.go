package mesh

import "os"

// draws is how many meshes a test draws: few in the ordinary tests, many where
// FETTLE_CAMPAIGN is set, as `make campaign` does. Seeds run from the same start, so
// that the few are the first of all.
func draws(usual, campaign uint64) uint64 {
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		return campaign
	}
	return usual
}
