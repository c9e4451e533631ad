// Package vary is the distributions of what a study varies, and the draws from
// them. A draw is the quantile of one uniform number that belongs to the study's
// seed, the quantity and the run alone: nothing else shifts it, and two versions of
// a scenario are compared on the same draws.
package vary
