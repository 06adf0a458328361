package datafolder

import (
	"context"

	"fettle/internal/store/blobs"
)

// Sweep removes bytes that no row has named for a day.
func (s *Store) Sweep(ctx context.Context) (blobs.Swept, error) {
	return s.Blobs.Sweep(ctx, s.HasBlob)
}
