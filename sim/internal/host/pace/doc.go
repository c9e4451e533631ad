// Package pace ties simulated time to the machine's clock. It is the only
// place that asks what time it is for the sake of the simulation.
package pace
