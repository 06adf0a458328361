package app

import "context"

// Shops knows which shop each job belongs to, and which bytes and contents the people of a shop may know of. What a list says of a
// job's owner is derived from its events; empty is the owner of a job that was never handed over.
type Shops interface {
	// OwnerOf is the shop that a job belongs to now. Of a job that is not there it is a diag.NotFound.
	OwnerOf(ctx context.Context, id string) (owner string, err error)
	// ListOf is List of the jobs of those owners alone.
	ListOf(ctx context.Context, owners []string, after string, most int) ([]JobLine, error)
	// Named says whether a job of those owners has ever named bytes or a content by its hash.
	Named(ctx context.Context, owners []string, hash string) (bool, error)
	// NoteBrought notes that somebody of a shop has brought bytes or a content, so that its people may name it, and HasBrought
	// says whether. Bytes that are removed have to be brought anew.
	NoteBrought(ctx context.Context, shop, hash string) error
	HasBrought(ctx context.Context, shop, hash string) (bool, error)
}
