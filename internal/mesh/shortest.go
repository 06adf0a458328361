package mesh

import "fmt"

// maxWindows bounds the memory of one exact search: 56 bytes a window and 16
// in the queue, so some 110 MB.
const maxWindows = 1_500_000

// ShortestPath is the shortest way along the surface from a to b. It starts
// from Path as an upper bound and then searches every way that could be
// shorter, in windows (docs/methods/surface-path.md). Proven says that the
// search ended, so LengthMM is the distance on this polyhedron up to rounding.
//
// Where it gives up (more than 1.5 million windows) or meets an edge of three
// or more faces, the best way found is returned with Proven false: LengthMM is
// then an upper bound, and Doubt says why.
func (s *Surface) ShortestPath(a, b Site) (Path, error) { return s.shortest(a, b, maxWindows) }

func (s *Surface) shortest(a, b Site, limit int) (Path, error) {
	from, err := s.anchor(a)
	if err != nil {
		return Path{}, err
	}
	to, err := s.anchor(b)
	if err != nil {
		return Path{}, err
	}
	out, err := s.path(&from, &to)
	if err != nil || out.Proven {
		return out, err
	}
	w := s.newWavefront(&from, &to, out.LengthMM)
	defer s.keepWays(w.ways)
	w.run(limit)
	if better, ok := w.trace(); ok && better.LengthMM < out.LengthMM {
		better.EdgeGraphMM, better.ChordMM = out.EdgeGraphMM, out.ChordMM
		out = better
	}
	out.Doubt = w.doubt()
	out.Proven = out.Doubt == ""
	return out, nil
}

// doubt says why the search proves nothing, "" when it does.
func (w *wavefront) doubt() string {
	switch {
	case w.gaveUp:
		return fmt.Sprintf("the search for a shorter way was stopped after %d windows", w.windows.n)
	case w.metCrowd:
		return "ways across edges of three or more faces were not searched"
	}
	return ""
}
