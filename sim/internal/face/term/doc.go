// Package term runs the card's menu on a terminal line, serial or SSH: a line
// editor fed byte by byte, and [Run], which adds line ends, an idle time-out and
// the end of the session when the card restarts.
//
// Line ends are made here and nowhere else: text inside the simulator ends its
// lines with \n, a terminal gets \r\n.
package term
