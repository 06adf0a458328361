package doc

import (
	"maps"
	"slices"
)

// Keys are the keys of maps, each once, in order.
func Keys[V any](of ...map[string]V) []string {
	all := map[string]bool{}
	for _, m := range of {
		for k := range m {
			all[k] = true
		}
	}
	return slices.Sorted(maps.Keys(all))
}
