package vary

import (
	"encoding/binary"
	"math"
	"strconv"

	"ridethrough/sim/internal/core/rng"
)

// Uniform is the uniform number of a quantity in a run, above 0 and below 1: the
// first 52 bits of the key of seed and "vary/QUANTITY/RUN", and a half more.
func Uniform(seed uint64, quantity string, run int) float64 {
	key := rng.Key(seed, "vary/"+quantity+"/"+strconv.Itoa(run))
	return (float64(binary.BigEndian.Uint64(key[:8])>>12) + 0.5) / (1 << 52)
}

// RunSeed is the master seed of everything that is drawn by chance inside a run.
func RunSeed(seed uint64, run int) uint64 {
	key := rng.Key(seed, "run/"+strconv.Itoa(run))
	return binary.BigEndian.Uint64(key[:8]) & math.MaxInt64
}
