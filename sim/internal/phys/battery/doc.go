// Package battery is a cell as equations, lead-acid first of all: how much charge
// it holds, how much of that is at its plates, what voltage follows, how long it
// lasts. Everything is per cell and per single string, in amperes, hours,
// ampere-hours, volts, ohms and watts. A site multiplies by cells in series and
// strings in parallel.
//
// # State and equations
//
// Q is the charge drawn since full and u_m, m = 1..N, are modes of uneven charge
// inside the cell. At current I, positive while discharging,
//
//	dQ/dt   = I
//	du_m/dt = I - lambda_m u_m
//	g = 1 - Q/C                       share of charge left: what a coulomb counter shows
//	y = g - sum(a_m u_m)/C            share at the plates: 0 means that no current flows
//	A = E0 - Es (1-g) + B ln(y/g)     voltage behind the internal resistance
//	V = A - R I                       terminal voltage
//
// For constant current the solution is exact over any step:
// u_m(t+dt) = u_m(t) e + I (1-e)/lambda_m with e = exp(-lambda_m dt). For
// constant power P the current solves V I = P, and if A^2 < 4 R P the battery
// cannot carry the load. Steps at constant power or resistance take the current
// of the midpoint.
//
// With one mode and B = R = Es = 0 this is the kinetic battery model (Manwell
// and McGowan, Solar Energy 50(5), 1993) in modal form: see [KineticFrom]. With
// ten modes a_m = 2, lambda_m = beta^2 m^2 it is the diffusion model (Rakhmatov,
// Vrudhula and Wallach, ISLPED 2002): see [Diffusion]. The tests reproduce the
// published lifetimes of both, and discharge tables of real blocks through
// package fit.
//
// A cell whose rested voltage is no straight line has a [Curve] in the place of
// E0 - Es (1-g); that is how a lithium iron phosphate cell is described.
//
// # Packs
//
// A [Pack] puts cells in series and strings in parallel. Where all are alike it is
// one cell, multiplied. With a weak block the cells of its string fall into two
// groups, each with a state of its own, and the currents are those at which the
// sums of voltages and resistances give the power asked for. Cells whose plates
// are bare are driven backwards to -1 V by the rest of their string (from memory:
// between -0.3 and -2 V), or held up by the strings beside it. A step in which the
// string with the weak block comes near that is halved until halves and whole
// agree; runtimes are then within 0.1 % of those that tiny steps give, of a sound
// pack as of one with a weak block. With nothing left at the plates of the strings
// without a fault the pack is at its end.
//
// # Range
//
// Two modes fitted to a block's discharge table give runtimes from 3 minutes to
// 20 hours and end voltages of 1.60 to 1.80 V per cell with a median error of
// about 2 % and 5 to 10 % at worst, which is how far published tables are from
// being smooth. What is not in it: hysteresis of the plates, sulphation, cell
// to cell spread, thermal runaway.
//
// No function gives NaN for valid parameters and finite arguments. Drawing on a
// battery with nothing at its plates is refused, charging a full one turns the
// current into gas: Q stays within 0 and C plus what one step drew too much.
package battery
