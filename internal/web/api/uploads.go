package api

import (
	"bytes"
	"context"
	"net/http"

	"fettle/internal/app"
	"fettle/internal/job"
)

// Sending is a file that is to be sent in pieces, as its sender announces it.
type Sending struct {
	Name   string `json:"name" minLength:"1" maxLength:"1000" doc:"As the sender has it; what the file is, its bytes say."`
	SHA256 string `json:"sha256" pattern:"^[0-9a-f]{64}$" doc:"Of all bytes."`
	Size   int64  `json:"size" minimum:"1" doc:"Likewise."`
	Text   string `json:"text" minLength:"1" maxLength:"1000" doc:"What it shows."`
	By     string `json:"by" minLength:"1" maxLength:"200" doc:"Person of the shop file who took it."`
	On     string `json:"on" format:"date"`
	For    string `json:"for,omitempty" maxLength:"200" doc:"The finding or inspection it is a photo of."`
}

// OfUpload is an upload of a job.
type OfUpload struct {
	OfJob
	Upload string `path:"upload" maxLength:"100" doc:"The upload, by its id."`
}

func (s *service) uploads() {
	gives := func(v app.Sent, err error) (*plain[Computed[app.Sent]], error) {
		return &plain[Computed[app.Sent]]{Computed[app.Sent]{v}}, err
	}
	serve(s, route{id: "begin-upload", method: http.MethodPost, path: "/jobs/{job}/uploads", group: "files", status: http.StatusCreated, says: "Announces a file that is sent in pieces and put on record as evidence.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body Sending
		}) (*plain[Computed[app.Sent]], error) {
			b := in.Body
			day, err := dayOf(as, b.On)
			if err != nil {
				return nil, err
			}
			return gives(as.BeginUpload(ctx, in.Key, app.Sending{Job: in.Job, Name: b.Name, SHA256: b.SHA256, Size: b.Size, Text: b.Text, By: b.By, On: day, For: job.RecordName(b.For)}))
		})
	serve(s, route{id: "upload", method: http.MethodGet, path: "/jobs/{job}/uploads/{upload}", group: "files", says: "How far an upload is, or as what it is on record."},
		func(ctx context.Context, as *app.As, in *OfUpload) (*plain[Computed[app.Sent]], error) {
			return gives(as.UploadState(ctx, in.Job, in.Upload))
		})
	serve(s, route{id: "send-piece", method: http.MethodPut, path: "/jobs/{job}/uploads/{upload}/piece", group: "files", says: "Adds a piece, of 8 MiB at most.", takes: "application/octet-stream", limit: pieceBody, refuses: toolRefuses},
		func(ctx context.Context, as *app.As, in *struct {
			OfUpload
			Offset  int64  `query:"offset" minimum:"0" doc:"Where it begins."`
			SHA256  string `query:"sha256" required:"true" pattern:"^[0-9a-f]{64}$" doc:"Of the piece."`
			RawBody []byte
		}) (*plain[Computed[app.Sent]], error) {
			return gives(as.SendPiece(ctx, in.Job, in.Upload, in.Offset, in.SHA256, bytes.NewReader(in.RawBody)))
		})
	serve(s, route{id: "seal-upload", method: http.MethodPost, path: "/jobs/{job}/uploads/{upload}/seal", group: "files", says: "Puts a file whose bytes are all there on record.", refuses: writes},
		func(ctx context.Context, as *app.As, in *OfUpload) (*plain[Computed[app.Sent]], error) {
			return gives(as.SealUpload(ctx, in.Job, in.Upload))
		})
	serve(s, route{id: "drop-upload", method: http.MethodDelete, path: "/jobs/{job}/uploads/{upload}", group: "files", status: http.StatusNoContent, says: "Ends an upload."},
		func(ctx context.Context, as *app.As, in *OfUpload) (*struct{}, error) {
			return nil, as.DropUpload(ctx, in.Job, in.Upload)
		})
}
