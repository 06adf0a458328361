package app

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"path"
	"slices"
	"strings"
	"unicode/utf8"

	"fettle/internal/diag"
	"fettle/internal/photo"
)

// sentKind is a sort of file that people send as evidence. What a file is, its bytes say, never its name.
type sentKind struct {
	what    string
	most    int64    // bytes
	endings []string // of its name; the first is given to one that has none of them
}

// The sorts of files that are taken, with limits that protect the machine: far above what such a file has (our choice).
var (
	sentPDF  = sentKind{"a PDF", 50 << 20, []string{".pdf"}}
	sentPLY  = sentKind{"a mesh", evidence.most, []string{".ply"}}
	sentGLB  = sentKind{"a mesh", evidence.most, []string{".glb"}}
	sentSTL  = sentKind{"a mesh", evidence.most, []string{".stl"}}
	sentText = sentKind{"a text or table", 20 << 20, []string{".txt", ".csv", ".dat", ".eml", ".log", ".md"}}
)

// sentPhotos are the formats of pictures.
var sentPhotos = map[photo.Kind][]string{photo.JPEG: {".jpg", ".jpeg"}, photo.PNG: {".png"}, photo.WebP: {".webp"}, photo.HEIC: {".heic", ".heif"}}

const (
	leastHead = 4 << 10        // bytes that tell what a file is
	mostHead  = photo.MostHead // bytes that tell how large a picture is
)

// sentAs is the sort of a file of so many bytes by the first of them, and an error where it is not taken: of no sort, or too large.
func (a *App) sentAs(head []byte, size int64) (sentKind, error) {
	k, err := a.sortOf(head, size)
	if err == nil && size > k.most {
		err = &diag.Error{Kind: diag.Denied, Op: "upload", Msg: fmt.Sprintf("it has %s; %s has %s at most", byteCount(size), k.what, byteCount(k.most)), Hint: "save it smaller"}
	}
	return k, err
}

func (a *App) sortOf(head []byte, size int64) (sentKind, error) {
	const stlHeader, stlRecord = 84, 50 // a binary STL is told by its size (package format)
	switch start := bytes.TrimLeft(head, " \t\r\n\ufeff"); {
	case size == 0:
		return sentKind{}, &diag.Error{Kind: diag.Invalid, Op: "upload", Msg: "the file is empty", Hint: "send it again"}
	case photo.KindOf(head) != "":
		kind, err := a.maker.Judge(head, size)
		return sentKind{"a photo", aPicture.most, sentPhotos[kind]}, err
	case bytes.HasPrefix(head, []byte("%PDF-")): // ISO 32000-1, 7.5.2
		return sentPDF, nil
	case bytes.HasPrefix(head, []byte("ply\n")) || bytes.HasPrefix(head, []byte("ply\r\n")):
		return sentPLY, nil
	case bytes.HasPrefix(head, []byte("glTF")): // ISO/IEC 12113, 4.4.1
		return sentGLB, nil
	case len(head) >= stlHeader && size == stlHeader+stlRecord*int64(binary.LittleEndian.Uint32(head[80:])):
		return sentSTL, nil
	case plainText(head) && bytes.HasPrefix(bytes.ToLower(start), []byte("solid ")):
		return sentSTL, nil
	case plainText(head) && !bytes.HasPrefix(start, []byte("<")):
		return sentText, nil
	}
	_, err := a.maker.Judge(head, size) // it knows what people take for pictures
	return sentKind{}, &diag.Error{Kind: diag.Unsupported, Op: "upload", Msg: "its content is of no sort that is taken, whatever its name says", Hint: "send a photo (JPEG, PNG, WebP, HEIC), a PDF, a mesh (STL, PLY, GLB) or a text", Err: err}
}

// plainText says that bytes are the beginning of a text in UTF-8.
func plainText(head []byte) bool {
	if len(head) >= leastHead { // a character may be cut
		for n := 0; n < utf8.UTFMax-1 && !utf8.Valid(head); n++ {
			head = head[:len(head)-1]
		}
	}
	return utf8.Valid(head) && bytes.IndexFunc(head, func(r rune) bool { return r < ' ' && !strings.ContainsRune("\t\r\n\f", r) }) < 0
}

const mostName = 100 // bytes of the name of a file

// safeName is the name of a file as it may stand in a folder of any system: nothing that leads elsewhere or is not seen,
// and with an ending of its sort.
func safeName(name string, k sentKind) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if diag.Hidden(r) || strings.ContainsRune(`/:*?"<>|`, r) || r == utf8.RuneError {
			return '-'
		}
		return r
	}, name)
	ending := path.Ext(name)
	stem := strings.Trim(strings.TrimSuffix(name, ending), " .-")
	for len(stem) > mostName {
		_, n := utf8.DecodeLastRuneInString(stem)
		stem = stem[:len(stem)-n]
	}
	if stem == "" || slices.Contains(devices, strings.ToUpper(stem)) {
		stem = "file" + stem
	}
	if ending = strings.ToLower(ending); !slices.Contains(k.endings, ending) {
		ending = k.endings[0]
	}
	return stem + ending
}

// devices are names that some systems take for devices, with any ending (from memory).
var devices = []string{"CON", "PRN", "AUX", "NUL", "COM1", "COM2", "COM3", "COM4", "COM5", "COM6", "COM7", "COM8", "COM9",
	"LPT1", "LPT2", "LPT3", "LPT4", "LPT5", "LPT6", "LPT7", "LPT8", "LPT9"}

// freeName is a name that no file in a list has, large and small letters being the same.
func freeName(name string, given []string) string {
	ending := path.Ext(name)
	out := name
	for n := 2; slices.ContainsFunc(given, func(g string) bool { return strings.EqualFold(path.Clean(g), out) }); n++ {
		out = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), n, ending)
	}
	return out
}
