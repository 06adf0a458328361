package main

import "testing"

// The limit is never so low that the collector would do nothing but collect: a third of it at least is free.
func TestMemoryLimitLeavesRoom(t *testing.T) {
	for live := int64(0); live < 4<<30; live += 7 << 20 {
		if l := limitFor(live); l < usualMemory || 2*l < 3*live {
			t.Fatalf("%d bytes in use, and the limit is %d", live, l)
		}
	}
	sink := make([]byte, 1<<20)
	if liveHeap() < 0 || len(sink) == 0 {
		t.Error("what is in use is not known")
	}
}
