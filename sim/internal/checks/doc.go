// Package checks hands the rows of testdata/checks.csv to tests: published or
// derived figures, each with its tolerance, its source and how far that source
// was seen. Beside them stands what tests of all rooms need of the machine and of
// generated files. Only tests import it.
package checks
