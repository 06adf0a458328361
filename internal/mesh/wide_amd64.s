#include "textflag.h"

// Eight boxes at a time. ray8Plain and hit8Plain say in Go what these do; a
// test compares them bit by bit.

// func hasAVX() bool
TEXT ·hasAVX(SB), NOSPLIT, $0-1
	MOVL $1, AX
	XORL CX, CX
	CPUID
	ANDL $0x18000000, CX // AVX, and the system saves its registers
	CMPL CX, $0x18000000
	JNE  no
	XORL CX, CX
	XGETBV
	ANDL $6, AX
	CMPL AX, $6
	JNE  no
	MOVB $1, ret+0(FP)
	RET
no:
	MOVB $0, ret+0(FP)
	RET

// func ray8(n *wideNode, q *rayQuery, dist *[8]float32) (mask uint32)
TEXT ·ray8(SB), NOSPLIT, $0-28
	MOVQ n+0(FP), AX
	MOVQ q+8(FP), BX
	MOVQ dist+16(FP), CX
	VXORPS Y4, Y4, Y4
	VBROADCASTSS 88(BX), Y5
	MOVQ 0(BX), DX
	MOVQ 24(BX), SI
	VBROADCASTSS 72(BX), Y2
	VMOVUPS (AX)(DX*1), Y0
	VMOVUPS (AX)(SI*1), Y1
	VBROADCASTSS 48(BX), Y3
	VSUBPS Y3, Y0, Y0
	VBROADCASTSS 60(BX), Y3
	VSUBPS Y3, Y1, Y1
	VMULPS Y2, Y0, Y0
	VMULPS Y2, Y1, Y1
	VMAXPS Y0, Y4, Y4
	VMINPS Y1, Y5, Y5
	MOVQ 8(BX), DX
	MOVQ 32(BX), SI
	VBROADCASTSS 76(BX), Y2
	VMOVUPS (AX)(DX*1), Y0
	VMOVUPS (AX)(SI*1), Y1
	VBROADCASTSS 52(BX), Y3
	VSUBPS Y3, Y0, Y0
	VBROADCASTSS 64(BX), Y3
	VSUBPS Y3, Y1, Y1
	VMULPS Y2, Y0, Y0
	VMULPS Y2, Y1, Y1
	VMAXPS Y0, Y4, Y4
	VMINPS Y1, Y5, Y5
	MOVQ 16(BX), DX
	MOVQ 40(BX), SI
	VBROADCASTSS 80(BX), Y2
	VMOVUPS (AX)(DX*1), Y0
	VMOVUPS (AX)(SI*1), Y1
	VBROADCASTSS 56(BX), Y3
	VSUBPS Y3, Y0, Y0
	VBROADCASTSS 68(BX), Y3
	VSUBPS Y3, Y1, Y1
	VMULPS Y2, Y0, Y0
	VMULPS Y2, Y1, Y1
	VMAXPS Y0, Y4, Y4
	VMINPS Y1, Y5, Y5
	VBROADCASTSS 84(BX), Y0
	VMULPS Y0, Y5, Y5
	VCMPPS $2, Y5, Y4, Y1 // in before out
	VMOVMSKPS Y1, DX
	VMOVUPS Y4, (CX)
	VZEROUPPER
	MOVL DX, mask+24(FP)
	RET

// DIST puts how far the point (Y0, Y1, Y2) lies beyond the plane of eight faces
// at offset o of the block into the register d.
#define DIST(o, d) \
	VMULPS o+0(AX), Y0, d   \
	VMULPS o+32(AX), Y1, Y3 \
	VADDPS Y3, d, d         \
	VMULPS o+64(AX), Y2, Y3 \
	VADDPS Y3, d, d         \
	VSUBPS o+96(AX), d, d

// func hit8(b *facePlanes, q *planeRay) (mask uint32)
TEXT ·hit8(SB), NOSPLIT, $0-20
	MOVQ b+0(FP), AX
	MOVQ q+8(FP), BX
	VBROADCASTSS 0(BX), Y0 // the origin
	VBROADCASTSS 4(BX), Y1
	VBROADCASTSS 8(BX), Y2
	VBROADCASTSS 12(BX), Y8 // the direction
	VBROADCASTSS 16(BX), Y9
	VBROADCASTSS 20(BX), Y10
	VBROADCASTSS 32(BX), Y11 // the slack
	VBROADCASTSS 36(BX), Y12 // one
	VXORPS Y15, Y15, Y15
	DIST(0, Y4) // from the origin to the plane
	VMULPS 0(AX), Y8, Y5
	VMULPS 32(AX), Y9, Y3
	VADDPS Y3, Y5, Y5
	VMULPS 64(AX), Y10, Y3
	VADDPS Y3, Y5, Y5
	VDIVPS Y5, Y12, Y5 // one over the cosine
	VMULPS Y5, Y4, Y4  // how far back along the ray the plane is
	VSUBPS Y5, Y15, Y6
	VMAXPS Y6, Y5, Y5
	VMULPS Y11, Y5, Y5
	VADDPS Y11, Y5, Y11 // the slack of a place on the plane
	VMULPS Y4, Y8, Y8   // that place
	VSUBPS Y8, Y0, Y0
	VMULPS Y4, Y9, Y9
	VSUBPS Y9, Y1, Y1
	VMULPS Y4, Y10, Y10
	VSUBPS Y10, Y2, Y2
	DIST(128, Y5)
	DIST(256, Y6)
	DIST(384, Y7)
	VMAXPS Y6, Y5, Y5
	VMAXPS Y7, Y5, Y5
	VCMPPS $0x0a, Y11, Y5, Y5 // not beyond an edge; true for what is not a number
	VBROADCASTSS 24(BX), Y6
	VSUBPS Y6, Y11, Y6
	VCMPPS $0x0a, Y6, Y4, Y6 // not before the ray begins
	VANDPS Y6, Y5, Y5
	VBROADCASTSS 28(BX), Y6
	VSUBPS Y6, Y15, Y6
	VSUBPS Y11, Y6, Y6
	VCMPPS $0x0a, Y4, Y6, Y6 // not after the limit
	VANDPS Y6, Y5, Y5
	VMOVMSKPS Y5, DX
	VZEROUPPER
	MOVL DX, mask+16(FP)
	RET
