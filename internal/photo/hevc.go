package photo

// sequence is what a coded picture says of itself (ITU-T H.265, 7.3.2.2): its size, and how its colours are coded.
type sequence struct {
	width, height               int
	told                        bool // the numbers of colours, as H.273 has them
	primaries, transfer, matrix uint64
	whole                       bool // all 256 values of luma are used
}

// sequenceOf is that of a decoder configuration (ISO/IEC 14496-15, 8.3.3.1); of no size where there is none.
func sequenceOf(hvcc []byte) (s sequence) {
	if len(hvcc) < 23 {
		return s
	}
	n := numbers{b: hvcc[22:]}
	for range n.next(1) {
		kind := n.next(1) & 0x3f
		for range n.next(2) {
			size := int(n.next(2))
			if n.bad || size > len(n.b) {
				return s
			}
			if unit := n.b[:size]; kind == 33 { // SPS_NUT
				return readSequence(unit)
			}
			n.b = n.b[size:]
		}
	}
	return s
}

// bits reads a unit bit by bit; past its end there are ones, with which every count is 0.
type bits struct {
	b  []byte
	at int
}

func (r *bits) u(n int) (v uint64) {
	for range n {
		bit := byte(1)
		if r.at>>3 < len(r.b) {
			bit = r.b[r.at>>3] >> (7 - r.at&7) & 1
		}
		r.at++
		v = v<<1 | uint64(bit)
	}
	return v
}

func (r *bits) yes() bool { return r.u(1) == 1 }

// ue is an Exp-Golomb number (9.2).
func (r *bits) ue() uint64 {
	zeros := 0
	for zeros < 32 && !r.yes() {
		zeros++
	}
	return 1<<zeros - 1 + r.u(zeros)
}

func (r *bits) skip(n int) {
	for range n {
		r.ue()
	}
}

// unescaped is a unit without the bytes that keep it from looking like a start (7.4.2).
func unescaped(b []byte) []byte {
	out := make([]byte, 0, len(b))
	zeros := 0
	for _, v := range b {
		if zeros >= 2 && v == 3 {
			zeros = 0
			continue
		}
		if zeros++; v != 0 {
			zeros = 0
		}
		out = append(out, v)
	}
	return out
}

func readSequence(unit []byte) (s sequence) {
	r := &bits{b: unescaped(unit[:min(len(unit), 1<<12)]), at: 16 + 4}
	layers := int(r.u(3))
	r.at += 1 + 96
	r.layers(layers)
	r.ue()
	chroma := r.ue()
	if chroma == 3 {
		r.u(1)
	}
	w, h := r.ue(), r.ue()
	var cut [4]uint64
	if r.yes() {
		for i := range cut {
			cut[i] = r.ue()
		}
	}
	across, down := uint64(1), uint64(1)
	if chroma == 1 || chroma == 2 {
		across = 2
	}
	if chroma == 1 {
		down = 2
	}
	cx, cy := across*(cut[0]+cut[1]), down*(cut[2]+cut[3])
	if w > 1<<16 || h > 1<<16 || cx >= w || cy >= h {
		return s
	}
	s.width, s.height = int(w-cx), int(h-cy)
	if r.toUsability(layers) && r.yes() {
		r.usability(&s)
	}
	return s
}

// layers passes over what is said of layers in time (7.3.3).
func (r *bits) layers(n int) {
	if n == 0 {
		return
	}
	skip := 0
	for range n {
		skip += int(88*r.u(1) + 8*r.u(1))
	}
	r.at += 2*(8-n) + skip
}

// toUsability passes over what lies between the size and the words on how to show it; false where that is not so simple as
// in a still picture.
func (r *bits) toUsability(layers int) bool {
	r.skip(2) // depths of bits
	poc := int(r.ue()) + 4
	if r.yes() {
		r.skip(3 * layers)
	}
	r.skip(3 + 6)
	if r.u(1) == 1 && r.yes() { // lists of scaling, of its own
		return false
	}
	r.u(2)
	if r.yes() { // uncompressed blocks
		r.u(8)
		r.skip(2)
		r.u(1)
	}
	if r.ue() > 0 || poc > 16 { // sets of other pictures
		return false
	}
	if r.yes() {
		for range min(r.ue(), 33) {
			r.u(poc + 1)
		}
	}
	r.u(2)
	return true
}

// usability reads the words on how to show it (E.2.1).
func (r *bits) usability(s *sequence) {
	if r.yes() && r.u(8) == 255 {
		r.u(32)
	}
	if r.yes() {
		r.u(1)
	}
	if !r.yes() {
		return
	}
	r.u(3)
	s.told, s.whole = true, r.yes()
	s.primaries, s.transfer, s.matrix = 2, 2, 2 // not told
	if r.yes() {
		s.primaries, s.transfer, s.matrix = r.u(8), r.u(8), r.u(8)
	}
}
