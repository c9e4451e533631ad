// Package num is arithmetic that gives the same bits everywhere.
//
// A Go compiler may fuse a product and a sum into one instruction with a single
// rounding. It does so on arm64 and for GOAMD64=v3, not for v1, so a*b + c gives
// different bits on different machines; an explicit conversion float64(a*b)
// forbids it. The exponential and the logarithm of the standard library differ
// too: they are assembly for some processors, fused Go for others, and on amd64
// the exponential asks the processor at run time. A simulator whose traces are
// compared byte for byte can use neither, so [Exp], [Expm1], [Log] and [Pow] live
// here, built from guarded products, bit operations and division only. Square
// root, absolute value, floor, minimum and maximum are exact in package math and
// the language, and safe to use.
//
// The rule for all packages of this floor: a product that meets a plus or minus
// is converted first, or goes through [MulAdd], and a function that returns a
// product converts it, for it may be inlined into a sum. A test of this package
// compiles the floor for both kinds of machine and fails when it finds a fused
// instruction.
package num
