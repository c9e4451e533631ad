// Package figure draws charts of physics: [Chart] is one as plain data, [Chart.Write]
// makes an SVG or PNG of it. The same chart gives the same bytes.
//
// Charts that the commands and the documentation share are made here too:
// [Discharge], [FitChart] and [ITI].
package figure
