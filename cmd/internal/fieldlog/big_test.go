package fieldlog

import (
	"fmt"
	"strings"
	"testing"

	"halfcup/sampling"
)

// big is a record of so many counts of a hundred colonies in ten years.
func big(rows int) string {
	var b strings.Builder
	b.WriteString(strings.Join(firstColumns, ",") + "\n")
	first := sampling.Day(2016, 5, 1)
	for i := range rows {
		fmt.Fprintf(&b, "%s,mill,Hive %d,count,wash,%d,300,,,,,,,n%d\n", first+sampling.Date(i*3650/rows), i%100, i%9, i)
	}
	return b.String()
}

func BenchmarkParse(b *testing.B) {
	text := big(100_000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := parse("log.csv", text); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheck(b *testing.B) {
	r, err := parse("log.csv", big(100_000))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		r.Check(sampling.Day(2026, 8, 1))
	}
}
