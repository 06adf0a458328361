#include "textflag.h"

// Boxes of 32 bytes: three coordinates of the lower corner and a number, three of
// the upper one and nothing. partBoxesPlain and binBoxesPlain say in Go what these
// do; a test compares them bit by bit. Of a part, the box of all begins at byte 8 and
// that of the centres at byte 40.

// func partBoxes4(boxes *boxed, n, axis int64, plane int32, left, right *part) (front int64)
TEXT ·partBoxes4(SB), NOSPLIT, $0-56
	MOVQ boxes+0(FP), SI // where we are
	MOVQ n+8(FP), CX
	MOVQ axis+16(FP), DX
	MOVL plane+24(FP), R8
	MOVQ left+32(FP), R9
	MOVQ right+40(FP), R10
	MOVQ SI, DI // the first that is not known to lie left
	VMOVDQU 8(R9), X8
	VMOVDQU 24(R9), X9
	VMOVDQU 40(R9), X10
	VMOVDQU 56(R9), X11
	VMOVDQU 8(R10), X12
	VMOVDQU 24(R10), X13
	VMOVDQU 40(R10), X14
	VMOVDQU 56(R10), X15
part:
	VMOVDQU 0(SI), X0
	VMOVDQU 16(SI), X1
	MOVL 0(SI)(DX*4), AX
	ADDL 16(SI)(DX*4), AX
	VMOVDQU 0(DI), X3
	VMOVDQU 16(DI), X4
	VMOVDQU X3, 0(SI)
	VMOVDQU X4, 16(SI)
	VMOVDQU X0, 0(DI)
	VMOVDQU X1, 16(DI)
	VPADDD X1, X0, X2
	XORL BX, BX
	CMPL AX, R8
	SETLT BX
	MOVL BX, R11
	NEGL R11
	VMOVD R11, X5
	VPSHUFD $0, X5, X5 // all bits where it lies left
	SHLQ $5, BX
	ADDQ BX, DI
	// what is on the other side is taken for what is there already
	VBLENDVPS X5, X0, X8, X3
	VPMINSD X3, X8, X8
	VBLENDVPS X5, X1, X9, X4
	VPMAXSD X4, X9, X9
	VBLENDVPS X5, X2, X10, X6
	VPMINSD X6, X10, X10
	VBLENDVPS X5, X2, X11, X7
	VPMAXSD X7, X11, X11
	VBLENDVPS X5, X12, X0, X3
	VPMINSD X3, X12, X12
	VBLENDVPS X5, X13, X1, X4
	VPMAXSD X4, X13, X13
	VBLENDVPS X5, X14, X2, X6
	VPMINSD X6, X14, X14
	VBLENDVPS X5, X15, X2, X7
	VPMAXSD X7, X15, X15
	ADDQ $32, SI
	DECQ CX
	JNZ part
	VMOVDQU X8, 8(R9)
	VMOVDQU X9, 24(R9)
	VMOVDQU X10, 40(R9)
	VMOVDQU X11, 56(R9)
	VMOVDQU X12, 8(R10)
	VMOVDQU X13, 24(R10)
	VMOVDQU X14, 40(R10)
	VMOVDQU X15, 56(R10)
	SUBQ boxes+0(FP), DI
	SHRQ $5, DI
	MOVQ DI, front+48(FP)
	RET

// func binBoxes4(boxes *boxed, n, step, axis, base int64, each uint64, bin *[sahBins]span, count *[sahBins]int32)
TEXT ·binBoxes4(SB), NOSPLIT, $0-64
	MOVQ boxes+0(FP), SI
	MOVQ n+8(FP), CX
	MOVQ step+16(FP), R8
	SHLQ $5, R8
	MOVQ axis+24(FP), DX
	MOVQ base+32(FP), R9
	MOVQ each+40(FP), R10
	MOVQ bin+48(FP), DI
	MOVQ count+56(FP), R11
bin:
	VMOVDQU 0(SI), X0
	VMOVDQU 16(SI), X1
	MOVL 0(SI)(DX*4), AX
	ADDL 16(SI)(DX*4), AX
	SUBL R9, AX
	IMULQ R10, AX
	SHRQ $32, AX
	INCL (R11)(AX*4)
	SHLQ $5, AX
	VPMINSD 0(DI)(AX*1), X0, X0
	VPMAXSD 16(DI)(AX*1), X1, X1
	VMOVDQU X0, 0(DI)(AX*1)
	VMOVDQU X1, 16(DI)(AX*1)
	ADDQ R8, SI
	DECQ CX
	JNZ bin
	RET
