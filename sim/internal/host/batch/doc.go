// Package batch takes datagrams off a socket several at a time and sends the
// replies likewise, where the system has calls for that (recvmmsg and sendmmsg of
// Linux). One datagram alone waits for no other. Elsewhere a batch is one datagram.
package batch
