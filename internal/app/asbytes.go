package app

import (
	"bytes"
	"context"
	"errors"
	"io"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// MostBytes is how many bytes a file may have that a job names.
const MostBytes = 256 << 20

// PutBytes keeps bytes that somebody of the shop has, so that a job of it may name them.
func (s *As) PutBytes(ctx context.Context, r io.Reader) (hash string, size int64, err error) {
	if _, err := s.may(right.BeginJob, s.inShop()); err != nil {
		return "", 0, err
	}
	if hash, size, err = s.In.Put(ctx, r, evidence.most); err != nil {
		return "", 0, err
	}
	return hash, size, s.In.NoteBrought(ctx, s.of.ID, hash)
}

func (s *As) putBytes(ctx context.Context, data []byte) (string, error) {
	hash, _, err := s.In.Put(ctx, bytes.NewReader(data), evidence.most)
	return hash, err
}

// Bytes is bytes that the shop may know of, and how many they are.
func (s *As) Bytes(ctx context.Context, hash string) (io.ReadCloser, int64, error) {
	if _, err := s.may(right.SeeJobs, s.inShop()); err != nil {
		return nil, 0, err
	}
	if err := s.knows(ctx, hash); err != nil {
		return nil, 0, err
	}
	r, size, err := s.In.Get(ctx, hash)
	return r, size, hidden(err)
}

// Retain says that bytes are kept, and that they stay for a day.
func (s *As) Retain(ctx context.Context, hash string) (int64, error) {
	if _, err := s.may(right.BeginJob, s.inShop()); err != nil {
		return 0, err
	}
	if err := s.knows(ctx, hash); err != nil {
		return 0, err
	}
	size, err := s.In.Retain(ctx, hash)
	return size, hidden(err)
}

// bodyFile is the file that makes a content a body.
const bodyFile = "body.yaml"

// knowsContent says whether the shop may know of a content: a body is for the whole group.
func (s *As) knowsContent(ctx context.Context, hash string) error {
	err := s.knows(ctx, hash)
	if diag.KindOf(err) != diag.NotFound {
		return err
	}
	files, err := s.In.Files(ctx, hash)
	if err != nil {
		return hidden(err)
	}
	if _, is := files[bodyFile]; !is {
		return nothing()
	}
	return nil
}

// Keep puts a body or the file of a shop into the library. Whoever has all of a content that is there already may name it.
func (s *As) Keep(ctx context.Context, files map[string][]byte) (string, error) {
	if _, err := s.may(right.SeeBodies, s.inShop()); err != nil {
		return "", err
	}
	hash := body.Hash(files)
	_, err := s.In.Files(ctx, hash)
	if diag.KindOf(err) == diag.NotFound || diag.KindOf(err) == diag.Invalid {
		a := right.SetRates
		if _, is := files[bodyFile]; is {
			a = right.LoadBody
		}
		_, err = s.may(a, s.inShop())
	}
	if err != nil && diag.KindOf(err) != diag.Integrity {
		return "", err
	}
	if hash, err = s.In.Keep(ctx, files); err != nil {
		return "", err
	}
	return hash, s.In.NoteBrought(ctx, s.of.ID, hash)
}

// Files is a content of the library.
func (s *As) Files(ctx context.Context, hash string) (map[string][]byte, error) {
	if _, err := s.may(right.SeeBodies, s.inShop()); err != nil {
		return nil, err
	}
	if err := s.knowsContent(ctx, hash); err != nil {
		return nil, err
	}
	files, err := s.In.Files(ctx, hash)
	return files, hidden(err)
}

// Upload is whoever takes files in pieces for a job of the shop.
func (s *As) upload(ctx context.Context, id string) (*Uploader, error) {
	if s.Uploads == nil {
		return nil, notServed("upload")
	}
	_, err := s.job(ctx, id, right.AddEvidence)
	return s.Uploads, err
}

// BeginUpload announces a file for a job.
func (s *As) BeginUpload(ctx context.Context, key string, f Sending) (Sent, error) {
	u, err := s.upload(ctx, f.Job)
	if err != nil {
		return Sent{}, err
	}
	return u.Begin(ctx, s.who.Person, key, f)
}

// UploadState is how far an upload is.
func (s *As) UploadState(ctx context.Context, job, id string) (Sent, error) {
	u, err := s.upload(ctx, job)
	if err != nil {
		return Sent{}, err
	}
	return u.State(ctx, s.who.Person, job, id)
}

// SendPiece adds a piece to an upload.
func (s *As) SendPiece(ctx context.Context, job, id string, offset int64, sha string, piece io.Reader) (Sent, error) {
	u, err := s.upload(ctx, job)
	if err != nil {
		return Sent{}, err
	}
	is, err := u.Send(ctx, s.who.Person, job, id, offset, sha, piece)
	return is, otherBytes(err)
}

// otherBytes makes bytes that are not those that were announced what they are where they come from outside: a fault of the sender.
func otherBytes(err error) error {
	var e *diag.Error
	if errors.As(err, &e) && e.Kind == diag.Integrity {
		own := *e
		own.Kind = diag.Invalid
		return &own
	}
	return err
}

// SealUpload puts an upload that is whole on record.
func (s *As) SealUpload(ctx context.Context, job, id string) (Sent, error) {
	u, err := s.upload(ctx, job)
	if err != nil {
		return Sent{}, err
	}
	is, err := u.Seal(ctx, s.who.Person, job, id)
	return is, otherBytes(err)
}

// DropUpload ends an upload.
func (s *As) DropUpload(ctx context.Context, job, id string) error {
	u, err := s.upload(ctx, job)
	if err != nil {
		return err
	}
	return u.Drop(ctx, s.who.Person, job, id)
}
