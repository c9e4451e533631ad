// Package ports holds thousands of UDP sockets in one goroutine: a socket and
// nothing else for each, and one [Set] that waits for all of them. A goroutine for
// each with its stack and buffers would take more memory than all the rest of a
// simulated device. Only Linux is supported; elsewhere [NewSet] fails with
// [ErrUnsupported].
package ports
