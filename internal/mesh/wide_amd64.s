#include "textflag.h"

// Eight boxes at a time. near8Plain and ray8Plain say in Go what these do; a
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

// func near8(n *wideNode, q *nearQuery, dist *[8]float32) (mask uint32)
TEXT ·near8(SB), NOSPLIT, $0-28
	MOVQ n+0(FP), AX
	MOVQ q+8(FP), BX
	MOVQ dist+16(FP), CX
	VXORPS Y7, Y7, Y7
	VBROADCASTSS 0(BX), Y0
	VBROADCASTSS 12(BX), Y1
	VMOVUPS 0(AX), Y4
	VSUBPS Y1, Y4, Y4
	VSUBPS 32(AX), Y0, Y0
	VMAXPS Y0, Y4, Y4
	VMAXPS Y7, Y4, Y4
	VMULPS Y4, Y4, Y4
	VBROADCASTSS 4(BX), Y0
	VBROADCASTSS 16(BX), Y1
	VMOVUPS 64(AX), Y5
	VSUBPS Y1, Y5, Y5
	VSUBPS 96(AX), Y0, Y0
	VMAXPS Y0, Y5, Y5
	VMAXPS Y7, Y5, Y5
	VMULPS Y5, Y5, Y5
	VBROADCASTSS 8(BX), Y0
	VBROADCASTSS 20(BX), Y1
	VMOVUPS 128(AX), Y6
	VSUBPS Y1, Y6, Y6
	VSUBPS 160(AX), Y0, Y0
	VMAXPS Y0, Y6, Y6
	VMAXPS Y7, Y6, Y6
	VMULPS Y6, Y6, Y6
	VADDPS Y5, Y4, Y4
	VADDPS Y6, Y4, Y4
	VBROADCASTSS 24(BX), Y0
	VCMPPS $2, Y0, Y4, Y1 // within the limit
	VMOVMSKPS Y1, DX
	VMOVUPS Y4, (CX)
	VZEROUPPER
	MOVL DX, mask+24(FP)
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

// func planes8(b *facePlanes, q *planeQuery, least *[8]float32) (found uint32)
TEXT ·planes8(SB), NOSPLIT, $0-28
	MOVQ b+0(FP), AX
	MOVQ q+8(FP), BX
	MOVQ least+16(FP), CX
	VBROADCASTSS 0(BX), Y0
	VBROADCASTSS 4(BX), Y1
	VBROADCASTSS 8(BX), Y2
	DIST(0, Y4)
	DIST(128, Y5)
	DIST(256, Y6)
	DIST(384, Y7)
	VMAXPS Y6, Y5, Y5 // beyond the edge that it is farthest beyond
	VMAXPS Y7, Y5, Y5
	VXORPS Y3, Y3, Y3
	VMAXPS Y3, Y5, Y5 // or beyond none
	VMULPS Y4, Y4, Y4
	VMULPS Y5, Y5, Y5
	VADDPS Y5, Y4, Y4
	VBROADCASTSS 12(BX), Y0
	VCMPPS $2, Y0, Y4, Y1 // within the limit
	VMOVMSKPS Y1, DX
	TESTL DX, DX
	JZ    none
	VMOVUPS Y4, (CX)
	MOVL DX, SI
	LEAL -1(DX), DI
	TESTL DI, DX
	JZ   one
	VPERM2F128 $1, Y4, Y4, Y5 // the least of eight, in all places: halves,
	VMINPS Y4, Y5, Y5
	VPERMILPS $0x4E, Y5, Y6 // quarters,
	VMINPS Y6, Y5, Y5
	VPERMILPS $0xB1, Y5, Y6 // neighbours
	VMINPS Y6, Y5, Y5
	VCMPPS $0, Y4, Y5, Y6 // where it is
	VMOVMSKPS Y6, SI
one:
	BSFL SI, SI
	SHLL $8, SI
	ORL  SI, DX
none:
	VZEROUPPER
	MOVL DX, found+24(FP)
	RET

// func scan64(c *closeBlocks, q *scanQuery, planes []facePlanes, list *[64]int32) (n int)
TEXT ·scan64(SB), NOSPLIT, $0-56
	MOVQ c+0(FP), AX
	MOVQ q+8(FP), BX
	MOVQ planes_base+16(FP), R8
	MOVQ list+40(FP), R9
	VBROADCASTSS 0(BX), Y8 // the point, rounded down
	VBROADCASTSS 4(BX), Y9
	VBROADCASTSS 8(BX), Y10
	VBROADCASTSS 12(BX), Y11 // and up
	VBROADCASTSS 16(BX), Y12
	VBROADCASTSS 20(BX), Y13
	VBROADCASTSS 24(BX), Y14 // the limit for boxes
	VXORPS Y15, Y15, Y15
	MOVQ 1792(AX), CX // places in use, a multiple of eight
	MOVQ AX, SI
	XORQ R10, R10 // one bit for each box within the limit
	XORQ DI, DI   // place of the first of the eight
boxes:
	VMOVUPS 0(SI), Y4
	VSUBPS Y11, Y4, Y4
	VSUBPS 32(SI), Y8, Y0
	VMAXPS Y0, Y4, Y4
	VMAXPS Y15, Y4, Y4
	VMULPS Y4, Y4, Y4
	VMOVUPS 64(SI), Y5
	VSUBPS Y12, Y5, Y5
	VSUBPS 96(SI), Y9, Y1
	VMAXPS Y1, Y5, Y5
	VMAXPS Y15, Y5, Y5
	VMULPS Y5, Y5, Y5
	VMOVUPS 128(SI), Y6
	VSUBPS Y13, Y6, Y6
	VSUBPS 160(SI), Y10, Y2
	VMAXPS Y2, Y6, Y6
	VMAXPS Y15, Y6, Y6
	VMULPS Y6, Y6, Y6
	VADDPS Y5, Y4, Y4
	VADDPS Y6, Y4, Y4
	VCMPPS $2, Y14, Y4, Y4
	VMOVMSKPS Y4, R11
	XCHGQ CX, DI // shift counts live in CX
	SHLQ CX, R11
	XCHGQ CX, DI
	ORQ  R11, R10
	ADDQ $192, SI
	ADDQ $8, DI
	CMPQ DI, CX
	JLT  boxes

	VBROADCASTSS 28(BX), Y0 // the point from the middle of the mesh
	VBROADCASTSS 32(BX), Y1
	VBROADCASTSS 36(BX), Y2
	VBROADCASTSS 40(BX), Y8 // the limit for planes
	MOVL 44(BX), R12        // the block to pass over
	MOVQ R9, R13
	MOVQ AX, SI
	TESTQ R10, R10
	JZ    done
blocks:
	BSFQ R10, DI
	LEAQ -1(R10), R11
	MOVLQSX 1536(SI)(DI*4), DI // the block
	MOVQ DI, AX
	SHLQ $9, AX
	ADDQ R8, AX
	DIST(0, Y4)
	DIST(128, Y5)
	DIST(256, Y6)
	DIST(384, Y7)
	VMAXPS Y6, Y5, Y5
	VMAXPS Y7, Y5, Y5
	VMAXPS Y15, Y5, Y5
	VMULPS Y4, Y4, Y4
	VMULPS Y5, Y5, Y5
	VADDPS Y5, Y4, Y4
	VCMPPS $2, Y8, Y4, Y4
	VMOVMSKPS Y4, CX
	MOVL DI, (R13) // kept if a face is within the limit and it is not passed over
	XORQ DX, DX
	TESTL CX, CX
	SETNE DX
	XORQ CX, CX
	CMPL DI, R12
	SETNE CX
	ANDQ CX, DX
	LEAQ (R13)(DX*4), R13
	ANDQ R11, R10
	JNZ  blocks
done:
	SUBQ R9, R13
	SHRQ $2, R13
	VZEROUPPER
	MOVQ R13, n+48(FP)
	RET

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
