// Package voltage watches the supply of a run and lists its voltage variations in
// the words of IEEE 1159, with whether equipment on the ITI curve bears them.
//
// A variation lasts from the voltage leaving 0.9 to 1.1 of nominal on one side
// until it is back within. Its magnitude is the voltage farthest from nominal in
// that time, as the standard has it: a dip that deepens is judged as deep all along.
package voltage
