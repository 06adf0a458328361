package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"fettle/internal/app"
)

// Kept is bytes that are kept.
type Kept struct {
	Hash string `json:"hash" doc:"SHA-256 of the bytes, or of the files of a content."`
	Size int64  `json:"size"`
}

// ByHash is bytes or a content by its hash.
type ByHash struct {
	Hash string `path:"hash" pattern:"^[0-9a-f]{64}$" doc:"SHA-256 in hexadecimal."`
}

// Content is a content of the library.
type Content struct {
	Files []ContentFile `json:"files"`
}

// ContentFile is a file of a content.
type ContentFile struct {
	Name string `json:"name"`
	Size int64  `json:"size"`
}

// kept is the routes of bytes, and of bodies and shops.
func (s *service) kept() {
	serve(s, route{id: "put-bytes", method: http.MethodPost, path: "/bytes", group: "files", status: http.StatusCreated, says: "Keeps bytes, so that a job of the shop may name them.",
		more: "What nothing names within a day may go. They are written as they come; over a line that breaks off, evidence is sent in pieces.", takes: "application/octet-stream", streams: true, limit: app.MostBytes},
		func(ctx context.Context, as *app.As, in *struct{ Coming }) (*plain[Kept], error) {
			hash, size, err := as.PutBytes(ctx, in)
			return &plain[Kept]{Kept{hash, size}}, in.told(err)
		})
	serve(s, ranged(route{id: "bytes", path: "/bytes/{hash}", group: "files", says: "Bytes that a job of the shop names, or that the shop has brought."}),
		func(ctx context.Context, as *app.As, in *struct {
			ByHash
			Part
		}) (*stream, error) {
			r, size, err := as.Bytes(ctx, in.Hash)
			if err != nil {
				return nil, err
			}
			if err := had(in.Has, tag(in.Hash)); err != nil {
				return nil, closing(r, err)
			}
			return send(in.Part, in.Hash, "application/octet-stream", r, size)
		})
	serve(s, route{id: "retain-bytes", method: http.MethodPost, path: "/bytes/{hash}/retain", group: "files", says: "Says that bytes are kept, and that they stay for a day."},
		func(ctx context.Context, as *app.As, in *ByHash) (*plain[Kept], error) {
			size, err := as.Retain(ctx, in.Hash)
			return &plain[Kept]{Kept{in.Hash, size}}, err
		})
	s.library()
}

func (s *service) library() {
	serve(s, route{id: "keep-content", method: http.MethodPost, path: "/library", group: "files", status: http.StatusCreated, says: "Puts the files of a body, or of a shop, into the library.", limit: 2 * fileBody, refuses: []int{http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			Body struct {
				Files []File `json:"files" minItems:"1" maxItems:"10000"`
			}
		}) (*plain[Kept], error) {
			files := byName(in.Body.Files)
			out := &plain[Kept]{}
			for _, data := range files {
				out.Body.Size += int64(len(data))
			}
			var err error
			out.Body.Hash, err = as.Keep(ctx, files)
			return out, err
		})
	serve(s, route{id: "content", method: http.MethodGet, path: "/library/{hash}", group: "files", says: "The files of a body, or of a shop that a job of one's own shop names.", tagged: true},
		func(ctx context.Context, as *app.As, in *struct {
			ByHash
			Has
		}) (*answer[Content], error) {
			files, err := as.Files(ctx, in.Hash)
			if err == nil {
				err = had(in.Has, tag(in.Hash))
			}
			out := &answer[Content]{ETag: tag(in.Hash)}
			for _, f := range listed(files) {
				out.Body.Files = append(out.Body.Files, ContentFile{f.Name, int64(len(f.Data))})
			}
			return out, err
		})
	serve(s, ranged(route{id: "content-file", path: "/library/{hash}/file", group: "files", says: "One file of a body or shop."}),
		func(ctx context.Context, as *app.As, in *struct {
			ByHash
			Part
			Name string `query:"name" required:"true" maxLength:"500"`
		}) (*stream, error) {
			files, err := as.Files(ctx, in.Hash)
			if err != nil {
				return nil, err
			}
			data, is := files[in.Name]
			if !is {
				return nil, nothing
			}
			of := strings.Trim(tagOf(data), `"`)
			if err := had(in.Has, tag(of)); err != nil {
				return nil, err
			}
			return send(in.Part, of, "application/octet-stream", io.NopCloser(bytes.NewReader(data)), int64(len(data)))
		})
}

// Part is which part of bytes is wanted.
type Part struct {
	Has
	Range string `header:"Range" maxLength:"100" doc:"One range of bytes, as bytes=0-99; more than one is answered with all."`
}

// stream is bytes as they are read.
type stream struct {
	Body func(huma.Context)
}

// ranged is a route of bytes.
func ranged(r route) route {
	r.method, r.gives, r.tagged, r.parts = http.MethodGet, "application/octet-stream", true, true
	return r
}

// send sends bytes, or a part of them. All of them are held against their hash while they are read: what breaks off there is not whole.
func send(p Part, hash, kind string, from io.ReadCloser, size int64) (*stream, error) {
	first, last, some, err := rangeOf(p.Range, size)
	if err != nil {
		return nil, errors.Join(err, from.Close())
	}
	return &stream{func(ctx huma.Context) {
		ctx.SetHeader("Content-Type", kind)
		ctx.SetHeader("ETag", tag(hash))
		ctx.SetHeader("Accept-Ranges", "bytes")
		ctx.SetHeader("Content-Length", strconv.FormatInt(last-first+1, 10))
		status := http.StatusOK
		if some {
			status = http.StatusPartialContent
			ctx.SetHeader("Content-Range", fmt.Sprintf("bytes %d-%d/%d", first, last, size))
		}
		ctx.SetStatus(status)
		_, err := io.CopyN(io.Discard, from, first)
		if err == nil {
			_, err = io.CopyN(ctx.BodyWriter(), from, last-first+1)
		}
		if err == nil && last == size-1 {
			_, err = io.Copy(io.Discard, from) // to its end, which says whether it is whole
		}
		if errors.Join(err, from.Close()) != nil {
			panic(http.ErrAbortHandler) // the length was told: nobody takes what came for all
		}
	}}, nil
}

// rangeOf is the range that is asked for; all of it where that is no range we know.
func rangeOf(text string, size int64) (first, last int64, some bool, err error) {
	spec, is := strings.CutPrefix(text, "bytes=")
	from, to, two := strings.Cut(spec, "-")
	if !is || !two || strings.Contains(spec, ",") {
		return 0, size - 1, false, nil
	}
	a, errA := strconv.ParseInt(from, 10, 64)
	b, errB := strconv.ParseInt(to, 10, 64)
	switch {
	case from == "" && errB == nil && b > 0:
		a, b = max(0, size-b), size-1
	case errA == nil && to == "":
		b = size - 1
	case errA != nil || errB != nil || a > b:
		return 0, size - 1, false, nil
	}
	if a >= size || a < 0 {
		p := shaped(http.StatusRequestedRangeNotSatisfiable, "request.range", "there are no bytes there", "ask for a part of the bytes there are")
		p.headers = http.Header{"Content-Range": {fmt.Sprintf("bytes */%d", size)}}
		return 0, 0, false, p
	}
	return a, min(b, size-1), true, nil
}
