//go:build page

package fieldlog

import (
	"syscall/js"

	"halfcup/cmd/internal/digest"
)

// The page on a phone keeps its rows in the browser. Built with the tag page, the
// package reads records and writes no file, which spares what writing one safely
// needs, and asks the browser for what else takes room.

// brokenOff is how many bytes at the end of a record are rows that broke off.
func brokenOff(string, string) int { return 0 }

// composed is text in the composed spelling of Unicode (NFC).
func composed(s string) string {
	return js.ValueOf(s).Call("normalize", "NFC").String()
}

func digestOfRow(text []byte) [32]byte { return digest.Of(text) }
