// Package card is the firmware of the network card as data and pure
// transitions: its life, its settings and accounts, how it comes to an address,
// the alarm table, the notifications it issues and its journal. Sockets and
// terminals belong to the faces and hosts above.
package card
