package app

import (
	"context"
	"io"
	"time"
)

// Upload is bytes that come in pieces.
type Upload struct {
	ID     string
	Note   string // of whoever began it
	SHA256 string // of all bytes, as it was announced
	Size   int64  // likewise
	Have   int64  // so many are there from the first on
	Sealed bool   // all are kept by their hash
	Ends   time.Time
}

// Uploads keeps bytes that come in pieces (internal/store/blobs). Pieces may come in any order, twice, and overlap; each
// is there whole or not at all. What is not sealed when its time is over is given up, and a diag.NotFound.
type Uploads interface {
	// BeginUpload begins an upload under an id. Begun twice with the same it is the same upload; with something else it is
	// a diag.Conflict.
	BeginUpload(ctx context.Context, id, note, sha256 string, size int64) (Upload, error)
	// UploadOf is how far one is, and EachUpload does something with every one.
	UploadOf(ctx context.Context, id string) (Upload, error)
	EachUpload(ctx context.Context, do func(Upload) error) error
	// SendPiece adds a piece, from an offset to where the reader ends; one whose reader ends with an error is not there.
	SendPiece(ctx context.Context, id string, offset int64, r io.Reader) (Upload, error)
	// UploadHead is its first bytes, as many as are there, so many at most.
	UploadHead(ctx context.Context, id string, most int64) ([]byte, error)
	// SealUpload keeps all bytes by their hash, as Blobs.Put does. Sealed twice it is no error; other bytes than were
	// announced are a diag.Integrity, and the upload is over.
	SealUpload(ctx context.Context, id string) error
	// DropUpload ends one; there may be none.
	DropUpload(ctx context.Context, id string) error
}
