//go:build 386 || arm || mips || mipsle

package unit

// Money in minor units and minutes of plans are whole numbers of more than 32 bits.
var _ = thisProgramNeedsA64BitSystem
