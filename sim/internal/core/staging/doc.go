// Package staging recommends in which order, and how far apart, outlet groups come
// on, so that their inrush does not add up and nobody boots before what it needs.
package staging
