package api

import (
	"fmt"
	"io"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"
)

// Coming is the body of a request as it comes: no more of it is read than the route takes, and none of it is kept in memory.
type Coming struct {
	from io.Reader
	left int64
	most int64
	why  error // what was wrong with how it came
}

// Resolve has it read from the request.
func (c *Coming) Resolve(ctx huma.Context) []error {
	r, _ := humago.Unwrap(ctx)
	c.from, c.most = r.Body, ctx.Operation().MaxBodyBytes
	if c.left = c.most; r.ContentLength > c.most {
		c.why = c.tooLong()
	}
	return nil
}

func (c *Coming) tooLong() error {
	return shaped(http.StatusRequestEntityTooLarge, "request.too-large", fmt.Sprintf("the body has more than %d bytes", c.most), "send less")
}

// Read reads it, and says where it is too long or breaks off.
func (c *Coming) Read(p []byte) (int, error) {
	if c.why != nil {
		return 0, c.why
	}
	n, err := c.from.Read(p[:min(int64(len(p)), c.left+1)])
	if c.left -= int64(n); c.left < 0 {
		c.why = c.tooLong()
		return 0, c.why
	}
	if err != nil && err != io.EOF {
		c.why = shaped(http.StatusRequestTimeout, "request.timeout", "the body did not come whole in time", "send it again")
		err = c.why
	}
	return n, err
}

// told is the error of whoever read it: what was wrong with the body, where that was it.
func (c *Coming) told(err error) error {
	if err != nil && c.why != nil {
		return c.why
	}
	return err
}
