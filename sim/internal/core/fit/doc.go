// Package fit finds the parameters of a battery cell from what a block is known
// to do: its discharge table, as data sheets print them.
//
// A table says for how many minutes a constant current or power is carried to
// an end voltage. [Fit] seeks the nine numbers of a two-mode cell (package
// battery) by least squares over
//
//	ln(t model / t table), limited to +-3, for every row
//	weight (x - mean)/deviation, for every number
//
// in the unknowns ln(C/s), ln a1, ln a2, ln lambda1, ln lambda2, E0, ln Es,
// ln(R s) and ln B, where s is the 20-hour capacity in Ah. The second line is the
// [Prior], which keeps numbers where few rows would let them run away.
//
// Rows of one time err together ([Likeness]): a fit to few rows ([FewRows]) takes
// that into account, and [Neighbours] corrects what the cell says of a load by
// what it leaves of the rows around. A simulation has the cell alone.
//
// Twelve well-chosen rows ([TwelvePoints]) predict the rest of a table with a
// median error of 1.5 % and some 4 to 10 % at worst, which is how far the
// tables themselves are from being smooth. The shortest time must be among them:
// a fit from 5 minutes up misses the 3-minute column by 15 to 36 %.
//
// Results are data to be kept with a block, not part of a run: gonum's linear
// algebra may differ in the last bits between machines.
package fit
