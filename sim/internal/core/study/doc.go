// Package study plays one scenario many times, with what its [vary] names drawn
// anew for every run, and adds up what came of it.
//
// What a run comes to depends on the scenario, the study's seed and the number of
// the run alone: not on the number of workers, nor on which machine played it, nor
// on what else is varied. Results are added up in the order of the runs, so that the
// same study gives the same bytes however it was divided.
package study
