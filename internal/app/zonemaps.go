package app

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/photo"
	"fettle/internal/report"
)

// svgMedia is the type of an SVG picture.
const svgMedia = "image/svg+xml"

// readMaps takes the pictures of the zone maps of a body. What cannot be shown, or has another
// shape than its map, is refused: outlines on it would lie elsewhere.
func readMaps(ctx context.Context, b *body.Body, files map[string][]byte) (map[body.MapID]report.MapPicture, diag.Problems) {
	out := map[body.MapID]report.MapPicture{}
	var problems diag.Problems
	sum := 0
	for i, k := range b.Castings {
		for j, m := range k.Maps {
			if m.Picture == "" {
				continue
			}
			field := fmt.Sprintf("castings[%d].zone_maps[%d]", i, j)
			data := files[m.Picture]
			media, shape, why := mapPicture(ctx, m.Picture, data)
			want := m.Size[0] / m.Size[1]
			sum += len(data)
			switch {
			case why != "":
				problems = append(problems, b.Problem(field+".picture", m.Picture+": "+why, "save it as a plain PNG, JPEG or SVG"))
			case sum > maxPicturesBytes:
				problems = append(problems, b.Problem(field+".picture", fmt.Sprintf("the pictures of the zone maps have more than %d MB together", maxPicturesBytes>>20), "save them smaller"))
			case math.Abs(shape/want-1) > shapeDiffers:
				problems = append(problems, b.Problem(field+".size", fmt.Sprintf("[%g, %g] has another shape than %s, which is %.4g times as wide as high", m.Size[0], m.Size[1], m.Picture, shape), "give width and height of the picture in its dots; a photograph that is turned by a mark in its file is saved anew first"))
			}
			out[m.ID] = report.MapPicture{Media: media, Data: data}
		}
	}
	return out, problems
}

// shapeDiffers is by how much of itself the width may differ from that of the picture, against its
// height: sizes are rounded.
const shapeDiffers = 0.01

// mapPicture is the type of a picture and how many times as wide it is as high, or why it cannot
// be shown.
func mapPicture(ctx context.Context, file string, data []byte) (media string, shape float64, why string) {
	if strings.EqualFold(path.Ext(file), ".svg") {
		shape, why = svgShape(data)
		return svgMedia, shape, why
	}
	kind := photo.KindOf(data)
	switch {
	case kind != photo.JPEG && kind != photo.PNG:
		return "", 0, "its content is no PNG or JPEG, whatever its name says"
	case len(data) > mapLimits.Bytes:
		return "", 0, tooManyBytes(data)
	}
	o, err := mapMaker.Look(ctx, data)
	switch {
	case err != nil:
		return "", 0, err.Error()
	case o.Turned:
		return "", 0, "it is turned by a mark in its file (EXIF), which not everything heeds: outlines on it would lie elsewhere"
	}
	return string(kind), float64(o.Width) / float64(o.Height), ""
}

// mapLimits are those on the picture of a zone map, which goes into every report as it is.
var mapLimits = photo.Limits{Bytes: 8 << 20, Dots: 64 << 20, Memory: photo.Usual.Memory, AtOnce: photo.Usual.AtOnce, Time: photo.Usual.Time}

// mapMaker is for all maps of all shops: what is unpacked at once is bounded for the whole program.
var mapMaker = photo.New(mapLimits)

func tooManyBytes(data []byte) string {
	return fmt.Sprintf("it has %d MB, more than %d", len(data)>>20, mapLimits.Bytes>>20)
}

// svgShape is how many times as wide an SVG drawing is as high, by its viewBox or its width and
// height. One that runs programs, or takes in what lies elsewhere, is none.
func svgShape(data []byte) (shape float64, why string) {
	if len(data) > mapLimits.Bytes {
		return 0, tooManyBytes(data)
	}
	d := xml.NewDecoder(bytes.NewReader(data))
	depth := 0
	for {
		t, err := d.Token()
		switch {
		case errors.Is(err, io.EOF) && shape > 0:
			return shape, ""
		case errors.Is(err, io.EOF):
			return 0, "it is no SVG drawing"
		case err != nil:
			return 0, "it is no SVG drawing: " + err.Error()
		}
		switch t := t.(type) {
		case xml.Directive:
			if bytes.ContainsAny(t, "[") {
				return 0, "it declares words of its own (<!DOCTYPE ... [ ... ]>)"
			}
		case xml.StartElement:
			if depth++; depth == 1 {
				if shape = shapeOf(t); t.Name.Local != "svg" || shape == 0 {
					return 0, "it is no SVG drawing, or does not say how wide and how high it is (viewBox)"
				}
			}
			if why := reaches(t); why != "" {
				return 0, why
			}
		case xml.EndElement:
			depth--
		}
	}
}

// reaches says what of an element reaches out of the drawing.
func reaches(e xml.StartElement) string {
	if slices.Contains([]string{"script", "foreignObject", "iframe"}, e.Name.Local) {
		return fmt.Sprintf("it holds more than a drawing (<%s>)", e.Name.Local)
	}
	for _, a := range e.Attr {
		v := strings.TrimSpace(a.Value)
		if a.Name.Local == "href" && v != "" && !strings.HasPrefix(v, "#") && !strings.HasPrefix(v, "data:image/") {
			return "it takes in what lies outside of it (href)"
		}
	}
	return ""
}

// shapeOf is width over height of the outermost element; 0 when it does not say.
func shapeOf(e xml.StartElement) float64 {
	size := [2]float64{}
	for _, a := range e.Attr {
		switch a.Name.Local {
		case "viewBox":
			if f := strings.FieldsFunc(a.Value, func(r rune) bool { return r == ' ' || r == ',' || r == '\t' || r == '\n' || r == '\r' }); len(f) == 4 {
				return ratio(f[2], f[3])
			}
			return 0
		case "width":
			size[0] = lengthIn(a.Value)
		case "height":
			size[1] = lengthIn(a.Value)
		}
	}
	if size[0] > 0 && size[1] > 0 {
		return size[0] / size[1]
	}
	return 0
}

func ratio(w, h string) float64 {
	a, b := lengthIn(w), lengthIn(h)
	if a > 0 && b > 0 {
		return a / b
	}
	return 0
}

// lengthIn is a length without its unit; 0 for what is none, or a share of something else.
func lengthIn(s string) float64 {
	v, err := strconv.ParseFloat(strings.TrimRight(strings.TrimSpace(s), "pxtcmin"), 64)
	if err != nil || !(v >= 1e-3 && v <= 1e6) { // no drawing is smaller or larger
		return 0
	}
	return v
}
