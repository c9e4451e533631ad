// Package checks hands the rows of testdata/checks.csv to tests: published or
// derived figures, each with its tolerance, its source and how far that source
// was seen. Only tests import it.
package checks
