package rule

import "os"

// draws is how many cases a law is tried with: few in the plain suite, all in a campaign.
func draws(few, all int) int {
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		return all
	}
	return few
}
