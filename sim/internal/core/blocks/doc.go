// Package blocks is the library of battery blocks, named by technology and size.
//
// Most lead-acid blocks are fits (package fit) to every row of constant current
// and constant power of a published discharge table between 1.60 and 1.80 V per
// cell; the tables are in testdata/tables with their sources. A few sizes for
// which there is no table are the typical cell of their 20-hour capacity. The
// blocks of lithium iron phosphate are from memory and say so. Every block tells
// where it is from and how far its figures can be trusted.
//
// The figures are in blocks.csv, which the tests fit anew: run them with -update
// to write it.
package blocks
