package digest

import (
	"crypto/sha256"
	"testing"

	"pgregory.net/rapid"
)

func TestOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		data := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "data")
		if got, want := Of(data), sha256.Sum256(data); got != want {
			t.Fatalf("%x: %x, want %x", data, got, want)
		}
	})
}
