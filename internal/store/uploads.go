package store

import (
	"context"
	"io"

	"fettle/internal/app"
	"fettle/internal/store/blobs"
)

// Uploads is the uploads of the bytes of a store, as the service asks for them.
type Uploads struct {
	in   *blobs.Store
	kept func(ctx context.Context, hash string, size int64) error
}

// NewUploads is the uploads to where bytes are kept. Kept notes bytes that are safe, before anybody is told that they are;
// nil where nothing has to be noted.
func NewUploads(in *blobs.Store, kept func(ctx context.Context, hash string, size int64) error) Uploads {
	return Uploads{in, kept}
}

// Uploads is the uploads of a store in memory.
func (m *Memory) Uploads() Uploads { return NewUploads(m.blobs, nil) }

// Uploads is the uploads of a store in a folder.
func (f *Folder) Uploads() Uploads { return NewUploads(f.blobs, nil) }

func told(u blobs.Upload) app.Upload {
	return app.Upload{ID: u.ID, Note: u.Note, SHA256: u.SHA256, Size: u.Size, Have: u.Have, Sealed: u.Sealed, Ends: u.Ends}
}

// BeginUpload begins an upload, or finds it begun.
func (u Uploads) BeginUpload(ctx context.Context, id, note, sha256 string, size int64) (app.Upload, error) {
	is, err := u.in.BeginAs(ctx, id, note, sha256, size, size)
	return told(is), err
}

// UploadOf is how far an upload is.
func (u Uploads) UploadOf(ctx context.Context, id string) (app.Upload, error) {
	is, err := u.in.UploadOf(ctx, id)
	return told(is), err
}

// EachUpload does something with every upload that is under way.
func (u Uploads) EachUpload(ctx context.Context, do func(app.Upload) error) error {
	return u.in.EachUpload(ctx, func(x blobs.Upload) error { return do(told(x)) })
}

// SendPiece adds a piece.
func (u Uploads) SendPiece(ctx context.Context, id string, offset int64, r io.Reader) (app.Upload, error) {
	is, err := u.in.Send(ctx, id, offset, r)
	return told(is), err
}

// UploadHead is the first bytes of an upload.
func (u Uploads) UploadHead(ctx context.Context, id string, most int64) ([]byte, error) {
	return u.in.UploadHead(ctx, id, most)
}

// SealUpload keeps the bytes of an upload by their hash.
func (u Uploads) SealUpload(ctx context.Context, id string) error {
	hash, size, err := u.in.Seal(ctx, id)
	if err == nil && u.kept != nil {
		err = u.kept(ctx, hash, size)
	}
	return err
}

// DropUpload ends an upload; there may be none.
func (u Uploads) DropUpload(ctx context.Context, id string) error { return u.in.GiveUp(ctx, id) }
