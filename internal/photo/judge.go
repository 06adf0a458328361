package photo

import (
	"fmt"

	"fettle/internal/diag"
)

// MostHead is how many of its first bytes tell what an original is.
const MostHead = 256 << 10

// Judge is the format of an original of so many bytes by the first of them (all, or MostHead), and refuses what Make would
// refuse by them: no picture, too many bytes or dots. Nothing is unpacked. What lies further behind is judged by Make.
func (m *Maker) Judge(first []byte, size int64) (Kind, error) {
	kind := KindOf(first)
	switch {
	case kind == "":
		return "", stranger(first)
	case size > int64(m.limits.Bytes):
		return kind, refuse(diag.Denied, fmt.Sprintf("it has %d MB; a picture has %d at most", size>>20, m.limits.Bytes>>20), "save it smaller")
	}
	h, err := headOf(kind, first)
	if err == nil {
		err = m.fits(h)
	}
	if err != nil && int64(len(first)) < size && diag.KindOf(err) != diag.Denied {
		return kind, nil // its head goes on
	}
	return kind, err
}
