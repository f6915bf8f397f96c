package answer

import (
	"encoding/json"
	"fmt"
	"testing"
)

// sixty is a yard of 60 hives that were counted three times.
func sixty() []Row {
	var rows []Row
	for h := range 60 {
		for i, day := range []string{"2026-05-10", "2026-06-20", "2026-07-25"} {
			r := count(fmt.Sprintf("kfmb%d", 3*h+i+1), fmt.Sprintf("h%d", h+1), day, (h+1)*7%[]int{4, 7, 13}[i])
			r["stand"] = fmt.Sprint(h + 1)
			rows = append(rows, r)
		}
	}
	return rows
}

func BenchmarkAsk(b *testing.B) {
	var book Book
	asked[Opened](b, &book, map[string]any{"do": "open", "rows": sixty()})
	for name, q := range map[string]map[string]any{
		"yard":   {"do": "yard", "yard": "mill", "day": "2026-07-25"},
		"later":  {"do": "yard", "yard": "mill", "day": "2026-07-30"},
		"hive":   {"do": "hive", "yard": "mill", "hive": "h7", "day": "2026-07-25"},
		"more":   {"do": "more", "yard": "mill", "hive": "h7", "day": "2026-07-25"},
		"season": {"do": "season", "yard": "mill", "hive": "h7", "day": "2026-07-25"},
	} {
		question, _ := json.Marshal(q)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				book.seen = nil
				book.Ask(question)
			}
		})
	}
}

func BenchmarkReading(b *testing.B) {
	book := Book{rows: sixty()}
	for b.Loop() {
		book.read = nil
		if _, err := book.reading(); err != nil {
			b.Fatal(err)
		}
	}
}
