package job

import (
	"slices"

	"fettle/internal/ledger"
)

// Contents is what the events of a chain have ever named by its hash: bodies and shops, and evidence, also what
// was replaced or withdrawn since. A body or shop that is named by a path is among paths.
func Contents(c ledger.Chain) (library, evidence, paths []string, err error) {
	events, err := Events(c)
	if err != nil {
		return nil, nil, nil, err
	}
	add := func(to *[]string, s string) {
		if !slices.Contains(*to, s) {
			*to = append(*to, s)
		}
	}
	for _, e := range events {
		switch d := e.Data.(type) {
		case Opening:
			for _, name := range []string{d.Body, d.Shop} {
				if hash, ok := NamedHash(name); ok {
					add(&library, hash)
				} else {
					add(&paths, name)
				}
			}
		case Named:
			add(&library, d.SHA256)
		case Evidence:
			if d.SHA256 != "" {
				add(&evidence, d.SHA256)
			}
		}
	}
	return library, evidence, paths, nil
}
