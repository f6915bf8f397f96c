//go:build !page

package fieldlog

import (
	"crypto/sha256"

	"golang.org/x/text/unicode/norm"
)

// composed is text in the composed spelling of Unicode (NFC).
func composed(s string) string { return norm.NFC.String(s) }

func digestOfRow(text []byte) [32]byte { return sha256.Sum256(text) }
