// Package thermal is the temperature of one lump of material: a battery
// cabinet, a converter, a room.
//
// With the heat capacity Cth in J/K, the conductance to its surroundings G in
// W/K, the heat P in W put into it and the surroundings at Ta,
//
//	Cth dT/dt = P - G (T - Ta)
//	T(t) = T(0) + (P/G - (T(0) - Ta)) (1 - exp(-t/tau)),  tau = Cth/G
//
// which is exact for constant P and Ta. Typical figures from memory: 0.9 kJ/kg/K
// for a lead-acid block, 5 to 10 W/m2/K for free convection at its surface. One
// lump has one temperature: it says nothing of hot spots.
//
// [Cooling] takes heat out of a lump by a setpoint, and [RelativeHumidity] is what
// becomes of the humidity of a room that warms up with its moisture.
package thermal
