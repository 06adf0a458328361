//go:build noheic

package photo

import (
	"context"
	"image"

	"fettle/internal/diag"
)

// heic is nothing in a program that was built without the decoder.
type heic struct{}

func (*heic) decode(context.Context, []byte, head) (image.Image, error) {
	return nil, refuse(diag.Unsupported, "it is a HEIC, and this program was built without what reads it", "set the phone's camera to save JPEG, or send the picture as JPEG; the original is kept")
}
