package main

import (
	"math"
	"os"
	"testing"
)

var nan = math.NaN()

func writeFile(t *testing.T, name, content string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(content), 0o666); err != nil {
		t.Fatal(err)
	}
}
