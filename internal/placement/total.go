package placement

import (
	"math/big"
	"math/bits"
)

// total adds up in 128 bits, where no sum of a placement wraps.
type total struct {
	hi int64
	lo uint64
}

func newTotal() *total { return &total{} }

// add adds v·n.
func (t *total) add(v int64, n int) {
	neg := (v < 0) != (n < 0)
	hi, lo := bits.Mul64(magnitude(v), magnitude(int64(n)))
	var carry uint64
	if neg {
		t.lo, carry = bits.Sub64(t.lo, lo, 0)
		t.hi -= int64(hi + carry)
		return
	}
	t.lo, carry = bits.Add64(t.lo, lo, 0)
	t.hi += int64(hi + carry)
}

func magnitude(v int64) uint64 {
	if v < 0 {
		return -uint64(v)
	}
	return uint64(v)
}

func (t *total) value() *big.Int {
	v := new(big.Int).Lsh(big.NewInt(t.hi), 64)
	return v.Add(v, new(big.Int).SetUint64(t.lo))
}
