package study

import (
	"encoding/json"
	"math"
	"strconv"
)

// rounded keeps three decimals: what is kept of a run.
func rounded(x float64) float64 { return math.Round(x*1000)/1000 + 0 } // not -0

// decimals is x for JSON with that many decimals.
func decimals(x float64, n int) json.Number {
	scale := 1.0
	for range n {
		scale *= 10
	}
	x = math.Round(x*scale)/scale + 0 // not -0
	return json.Number(strconv.FormatFloat(x, 'f', n, 64))
}
