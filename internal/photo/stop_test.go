//go:build !noheic

package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"runtime"
	"runtime/pprof"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
)

// many is a HEIC that shows a fixture so many times across and down, as phones put their pictures together of tiles
// (ISO/IEC 23008-12, 6.6.2.3). All tiles lie in the same place, so a few kilobytes take as long as a large photo.
func many(t testing.TB, across, down int) []byte {
	t.Helper()
	one := fixture(t, "colour.heic")
	f := heif{of: map[uint32][]int{}, parts: map[uint32][]uint32{}, places: map[uint32]place{}}
	_ = boxed(one, func(name string, body []byte) error {
		if name == "meta" {
			return boxed(body[4:], f.meta)
		}
		return nil
	})
	u16, u32 := binary.BigEndian.AppendUint16, binary.BigEndian.AppendUint32
	box := func(name string, body ...[]byte) []byte {
		b := append([]byte(name), slices.Concat(body...)...)
		return append(u32(nil, uint32(len(b)+4)), b...)
	}
	none := make([]byte, 4)
	ispe := func(w, h int) []byte { return box("ispe", none, u32(u32(nil, uint32(w)), uint32(h))) }
	infe := func(item uint16, kind string) []byte {
		return box("infe", []byte{2, 0, 0, 0}, u16(u16(nil, item), 0), []byte(kind), []byte{0})
	}
	tiles := across * down
	coding := f.props[slices.IndexFunc(f.props, func(p property) bool { return p.name == boxCoding })]
	refs := u16(u16(nil, 1), uint16(tiles))
	infos, links := infe(1, "grid"), []byte{0, 1, 1, 3}
	for i := range uint16(tiles) {
		refs = u16(refs, 2+i)
		infos = append(infos, infe(2+i, "hvc1")...)
		links = append(u16(links, 2+i), 2, 0x81, 2)
	}
	grid := u16(u16([]byte{0, 0, byte(down - 1), byte(across - 1)}, uint16(96*across)), uint16(64*down))
	at := f.places[f.primary]
	tile := one[at.at : at.at+at.size]
	head := func(from int) []byte {
		where := u32(u32(u16(u16(u16(nil, 1), 0), 1), uint32(from)), uint32(len(grid)))
		for i := range uint16(tiles) {
			where = u32(u32(u16(u16(u16(where, 2+i), 0), 1), uint32(from+len(grid))), uint32(len(tile)))
		}
		return slices.Concat(box("ftyp", []byte("heic\x00\x00\x00\x00mif1heic")), box("meta", none,
			box("hdlr", none, none, []byte("pict"), make([]byte, 13)),
			box("pitm", none, u16(nil, 1)),
			box("iinf", none, u16(nil, uint16(1+tiles)), infos),
			box("iref", none, box("dimg", refs)),
			box("iprp", box("ipco", box("hvcC", coding.body), ispe(96, 64), ispe(96*across, 64*down)),
				box("ipma", none, u32(nil, uint32(1+tiles)), links)),
			box("iloc", none, []byte{0x44, 0}, u16(nil, uint16(1+tiles)), where)))
	}
	return slices.Concat(head(len(head(0))+8), box("mdat", grid, tile))
}

// held is the memory that is in use, with nothing of others in it.
func held() int {
	var m runtime.MemStats
	for range 2 { // what has a finalizer takes two rounds
		runtime.GC()
	}
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc >> 20)
}

// A HEIC whose time is over, or whose context ends, stops in the middle of its decoder: within a second, with no goroutine
// left, its memory given back and its turn too.
func TestHEICIsStoppedInTheMiddle(t *testing.T) {
	m := New(Limits{Bytes: 1 << 20, Dots: 40_000_000, Memory: 256 << 20, Time: time.Minute})
	if o, img, _ := shot(t, many(t, 3, 2), 96); o.Width != 288 || o.Height != 128 || img == nil {
		t.Fatalf("%+v", o)
	}
	if _, err := m.Look(t.Context(), fixture(t, "colour.heic")); err != nil { // the decoder is made ready apart
		t.Fatal(err)
	}
	large := many(t, 40, 50) // 3,840 by 3,200 dots in 90 kB
	goroutines, before := runtime.NumGoroutine(), held()
	for _, after := range []time.Duration{10 * time.Millisecond, 100 * time.Millisecond} {
		ctx, stop := context.WithCancel(t.Context())
		ended := make(chan time.Time, 1)
		time.AfterFunc(after, func() { ended <- time.Now(); stop() })
		_, err := m.Look(ctx, large)
		if took := time.Since(<-ended); !errors.Is(err, context.Canceled) || took > time.Second {
			t.Errorf("%v: %v, %v after the end", after, err, took)
		}
	}
	m.limits.Time = 50 * time.Millisecond
	begin := time.Now()
	if _, err := m.Look(t.Context(), large); diag.KindOf(err) != diag.Unavailable || !strings.Contains(err.Error(), "unpacking it takes longer than is given") || time.Since(begin) > 2*time.Second {
		t.Errorf("its time: %v after %v", err, time.Since(begin))
	}
	for range 100 { // a goroutine that was told to end may still be on its way
		if runtime.NumGoroutine() <= goroutines {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	if n := runtime.NumGoroutine(); n > goroutines {
		var b bytes.Buffer
		_ = pprof.Lookup("goroutine").WriteTo(&b, 1)
		t.Errorf("%d goroutines of %d: %s", n, goroutines, b.String())
	}
	if after := held(); after > before+4 {
		t.Errorf("%d MB are held, %d before", after, before)
	}
	if len(m.turns) > 0 {
		t.Error("a turn is still taken")
	}
}

// Pictures wait for their turn as long as their context lets them, and one that was left lets the next one in.
func TestPicturesWaitForTheirTurn(t *testing.T) {
	m := New(Limits{Bytes: 1 << 20, Dots: 1 << 20, Memory: 256 << 20, AtOnce: 2, Time: time.Minute})
	data := asJPEG(t, quarters(96, 64))
	for range 2 {
		m.turns <- struct{}{}
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, _, err := m.Make(ctx, data, 40); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	late, end := context.WithTimeout(t.Context(), time.Millisecond)
	defer end()
	if _, err := m.Look(late, data); diag.KindOf(err) != diag.Unavailable || !strings.Contains(err.Error(), "other pictures are unpacked first") {
		t.Errorf("late: %v", err)
	}
	made := make(chan error)
	go func() { _, _, err := m.Make(t.Context(), data, 40); made <- err }()
	select {
	case err := <-made:
		t.Errorf("a third one did not wait: %v", err)
	case <-time.After(20 * time.Millisecond):
	}
	<-m.turns
	if err := <-made; err != nil {
		t.Error(err)
	}
	for range 20 { // refused ones leave their turn too
		if _, err := m.Look(t.Context(), []byte("no picture")); err == nil {
			t.Error("words are a picture")
		}
	}
	if len(m.turns) != 1 {
		t.Errorf("%d turns are taken, 1 by this test", len(m.turns))
	}
}

func FuzzHEIC(f *testing.F) {
	seeds(f, HEIC)
	for _, name := range []string{"colour.heic", "grey.heic", "full.heic"} {
		f.Add(fixture(f, name))
	}
	f.Add(many(f, 2, 1))
	if err := fuzzed.heic.ready(); err != nil { // this takes longer than the fuzzer gives one input
		f.Fatal(err)
	}
	f.Fuzz(anything)
}
