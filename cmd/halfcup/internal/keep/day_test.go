package keep

import (
	"testing"
	"time"

	"halfcup/sampling"
)

func TestReadDay(t *testing.T) {
	day := func(year int, month time.Month, day int) sampling.Date { return sampling.Day(year, month, day) }
	today := day(2026, 6, 20) // a Saturday
	for _, tc := range []struct {
		word string
		w    which
		want sampling.Date
	}{
		{"today", past, today}, {"Yesterday", past, today - 1}, {"tomorrow", past, today + 1},
		{"sat", past, today}, {"mon", past, day(2026, 6, 15)}, {"Sunday", past, day(2026, 6, 14)},
		{"14jun", past, day(2026, 6, 14)}, {"jun14", past, day(2026, 6, 14)}, {"14june", past, day(2026, 6, 14)},
		{"21jun", past, day(2025, 6, 21)}, {"21jun", coming, day(2026, 6, 21)}, {"21jun", nearest, day(2026, 6, 21)},
		{"20sep", coming, day(2026, 9, 20)}, {"14jun", coming, day(2027, 6, 14)}, {"3jan", nearest, day(2026, 1, 3)},
		{"29feb", past, day(2024, 2, 29)}, {"14jun2024", past, day(2024, 6, 14)}, {"1sept", past, day(2025, 9, 1)},
		{"2026-06-14", past, day(2026, 6, 14)},
	} {
		got, isDay, err := readDay(tc.word, today, tc.w)
		if err != nil || !isDay || got != tc.want {
			t.Errorf("%s is %s, %v, %v; want %s", tc.word, got, isDay, err, tc.want)
		}
	}
	for _, no := range []string{"M1", "all", "oak", "may", "june", "12", "m14", "jun", "h12", "14", "marchhare"} {
		if d, isDay, err := readDay(no, today, past); isDay || err != nil {
			t.Errorf("%s is %s, %v", no, d, err)
		}
	}
	for _, bad := range []string{"6/7", "06.07.", "6/7/2026", "31jun", "31jun2026", "2026-13-01"} {
		if d, isDay, err := readDay(bad, today, past); !isDay || err == nil {
			t.Errorf("%s is %s, %v, %v", bad, d, isDay, err)
		}
	}
}
