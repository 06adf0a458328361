package photo

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"slices"
	"strings"

	"golang.org/x/image/webp"

	"fettle/internal/diag"
)

// Kind is a format of pictures, as media types name it.
type Kind string

// The formats that are read.
const (
	JPEG Kind = "image/jpeg"
	PNG  Kind = "image/png"
	WebP Kind = "image/webp"
	HEIC Kind = "image/heic"
)

// pngSign is how a PNG begins (ISO/IEC 15948, 5.2).
const pngSign = "\x89PNG\r\n\x1a\n"

// KindOf is the format of a picture by its first bytes; empty for anything that is not read.
func KindOf(data []byte) Kind {
	switch {
	case bytes.HasPrefix(data, []byte(pngSign)):
		return PNG
	case bytes.HasPrefix(data, []byte{0xff, 0xd8, 0xff}): // start of image, and a marker (ISO/IEC 10918-1, B.1.1.3)
		return JPEG
	case len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP": // RFC 9649, 2.4
		return WebP
	case slices.ContainsFunc(brands(data), func(b string) bool { return slices.Contains(heicBrands, b) }):
		return HEIC
	}
	return ""
}

// heicBrands are those of still pictures coded with HEVC (ISO/IEC 23008-12, B.4.1).
var heicBrands = []string{"heic", "heix", "heim", "heis"}

// brands are those that a file of boxes says it is made after (ISO/IEC 14496-12, 4.3).
func brands(data []byte) []string {
	if len(data) < 16 || string(data[4:8]) != "ftyp" {
		return nil
	}
	size := int(be32(data))
	if size < 16 || size > len(data) || size > 1<<10 {
		return nil
	}
	out := []string{string(data[8:12])}
	for i := 16; i+4 <= size; i += 4 {
		out = append(out, string(data[i:i+4]))
	}
	return out
}

// strangers are how other files begin that people take for pictures. From memory, but for what is tested.
var strangers = []struct{ begins, what string }{
	{"GIF8", "a GIF"}, {"II*\x00", "a TIFF"}, {"MM\x00*", "a TIFF"}, {"BM", "a bitmap (BMP)"}, {"%PDF", "a PDF"}, {"PK\x03\x04", "a zip archive"},
	{"<svg", "an SVG drawing"}, {"<?xml", "an XML document"}, {"<!DOCTYPE", "a web page"}, {"<html", "a web page"},
}

const sendJPEG = "send the picture as JPEG, PNG, WebP or HEIC"

// stranger is the error for what is no picture that is read.
func stranger(data []byte) error {
	if len(data) == 0 {
		return refuse(diag.Invalid, "the file is empty", "send the picture again")
	}
	start := strings.ToLower(string(bytes.TrimLeft(data[:min(len(data), 256)], " \t\r\n\ufeff")))
	for _, s := range strangers {
		if strings.HasPrefix(start, strings.ToLower(s.begins)) {
			return refuse(diag.Unsupported, "it is "+s.what+", not a photograph", sendJPEG)
		}
	}
	if b := brands(data); len(b) > 0 {
		what := "it is a film or a picture of another kind (" + strings.Join(b[:1], "") + ")"
		if slices.Contains(b, "avif") {
			what = "it is an AVIF picture"
		}
		return refuse(diag.Unsupported, what+", which is not read", sendJPEG)
	}
	return refuse(diag.Unsupported, "its content is no picture that is read, whatever its name says", sendJPEG)
}

func decode(k Kind, from io.Reader) (image.Image, error) {
	switch k {
	case JPEG:
		return jpeg.Decode(from)
	case PNG:
		return png.Decode(from)
	}
	return webp.Decode(from)
}

const op = "make a picture"

func refuse(k diag.Kind, msg, hint string) *diag.Error {
	return &diag.Error{Kind: k, Op: op, Msg: msg, Hint: hint}
}

// interrupted is the error for work whose context ended.
func interrupted(err error) error {
	if errors.Is(err, context.DeadlineExceeded) {
		return &diag.Error{Kind: diag.Unavailable, Op: op, Msg: "unpacking it takes longer than is given", Hint: "save it smaller, or as a plain JPEG", Err: err}
	}
	return err
}

// waited is the error for a picture whose turn did not come.
func waited(err error) error {
	if errors.Is(err, context.DeadlineExceeded) {
		return &diag.Error{Kind: diag.Unavailable, Op: op, Msg: "other pictures are unpacked first, and take longer than is given", Hint: "try it again later", Err: err}
	}
	return err
}

// damaged is the error for bytes that are no picture after all.
func damaged(err error) *diag.Error {
	e := refuse(diag.Invalid, "the file is damaged or cut short: "+err.Error(), "send the picture again, as the camera saved it")
	e.Err = err
	return e
}

// unread is the error of a decoder: the picture is damaged, or of a kind that it cannot do.
func unread(k Kind, err error) error {
	var ours *diag.Error
	var noJPEG jpeg.UnsupportedError
	var noPNG png.UnsupportedError
	switch {
	case errors.As(err, &ours):
		return err
	case errors.As(err, &noJPEG):
		return refuse(diag.Unsupported, fmt.Sprintf("it is a JPEG of a rare kind that is not read (%s)", string(noJPEG)), "save it as a plain JPEG: 8 bits, Huffman coding")
	case errors.As(err, &noPNG):
		return refuse(diag.Unsupported, fmt.Sprintf("it is a PNG of a rare kind that is not read (%s)", string(noPNG)), "save it as a plain PNG or JPEG")
	}
	return damaged(err)
}
