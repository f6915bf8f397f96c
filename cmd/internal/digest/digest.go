// Package digest is SHA-256 (FIPS 180-4) in a page of code, for the page on a
// phone: the standard library's brings a tenth of a megabyte of what its callers
// may need elsewhere, and a page has two altogether. It is for naming rows, not
// for secrets, and not for programs that have room for crypto/sha256.
package digest

import (
	"math"
	"math/bits"
)

// Of is the SHA-256 digest of data.
func Of(data []byte) [32]byte {
	h, k := constants()
	text := append([]byte(nil), data...)
	text = append(text, 0x80)
	for len(text)%64 != 56 {
		text = append(text, 0)
	}
	for i := 56; i >= 0; i -= 8 {
		text = append(text, byte(uint64(len(data))*8>>i))
	}
	for ; len(text) > 0; text = text[64:] {
		var w [64]uint32
		for i := range 16 {
			w[i] = uint32(text[4*i])<<24 | uint32(text[4*i+1])<<16 | uint32(text[4*i+2])<<8 | uint32(text[4*i+3])
		}
		for i := 16; i < 64; i++ {
			a, b := w[i-15], w[i-2]
			w[i] = w[i-16] + w[i-7] + (turn(a, 7) ^ turn(a, 18) ^ a>>3) + (turn(b, 17) ^ turn(b, 19) ^ b>>10)
		}
		v := h
		for i := range 64 {
			a, e := v[0], v[4]
			t := v[7] + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + (e&v[5] ^ ^e&v[6]) + k[i] + w[i]
			u := (turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + (a&v[1] ^ a&v[2] ^ v[1]&v[2])
			v = [8]uint32{t + u, a, v[1], v[2], v[3] + t, e, v[5], v[6]}
		}
		for i := range h {
			h[i] += v[i]
		}
	}
	var out [32]byte
	for i, x := range h {
		out[4*i], out[4*i+1], out[4*i+2], out[4*i+3] = byte(x>>24), byte(x>>16), byte(x>>8), byte(x)
	}
	return out
}

func turn(x uint32, n int) uint32 { return bits.RotateLeft32(x, -n) }

// constants are the first 32 bits of the parts behind the point of the square
// roots of the first 8 primes and of the cube roots of the first 64. A float64
// holds 32 bits behind the point of roots that are below 8.
func constants() (h [8]uint32, k [64]uint32) {
	part := func(x float64) uint32 { return uint32(uint64(math.Mod(x, 1) * (1 << 32))) }
	for n, i := 2, 0; i < 64; n++ {
		prime := true
		for d := 2; d*d <= n; d++ {
			prime = prime && n%d != 0
		}
		if !prime {
			continue
		}
		if i < 8 {
			h[i] = part(math.Sqrt(float64(n)))
		}
		k[i] = part(math.Cbrt(float64(n)))
		i++
	}
	return h, k
}
