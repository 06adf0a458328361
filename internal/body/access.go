package body

import (
	"slices"
	"strings"
)

// SaysAccess says that the body tells how something is reached.
func (b *Body) SaysAccess(to string) bool {
	return slices.ContainsFunc(b.Access, func(a Access) bool { return a.To == to })
}

// accessTo is how what is open about reaching the zones and section lines of a casting is called.
const accessTo = "access to "

// AccessOf is the name of what is open about reaching the zones and section lines of a casting.
func AccessOf(k CastingID) string { return accessTo + string(k) }

// OfAccess is the casting of such a name.
func OfAccess(name string) (CastingID, bool) {
	id, ok := strings.CutPrefix(name, accessTo)
	return CastingID(id), ok
}
