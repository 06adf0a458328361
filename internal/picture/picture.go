// Package picture draws: what of a mesh is seen from a side, pixel by pixel, the
// shaded picture of it as a PNG, and SVG with labels that keep apart. It knows
// meshes and their labels, and nothing of what they stand for.
//
// Pictures are the same bytes on every machine: points are snapped to a grid of
// parts of pixels, so that whole numbers decide which pixels a face covers.
package picture
