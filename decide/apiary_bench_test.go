package decide

import (
	"fmt"
	"testing"

	"halfcup/sampling"
)

// yardOf is a yard of colonies with ten counts and a course each.
func yardOf(b *testing.B, colonies int) Apiary {
	var all []Colony
	for i := range colonies {
		var texts []string
		for k := range 10 {
			texts = append(texts, fmt.Sprintf("roll:%d/300@%s", (i+3*k)%9, mustDate("2026-04-10")+sampling.Date(18*k+i%3)))
		}
		c := colonyOf(b, texts...)
		t, err := sampling.FindTreatment("oxalic-vapour")
		if err != nil {
			b.Fatal(err)
		}
		for k := range 4 {
			c.Treatments = append(c.Treatments, TreatmentDay{On: mustDate("2026-07-20") + sampling.Date(5*k), Treatment: t})
		}
		all = append(all, c)
	}
	return apiaryOf(b, all...)
}

// One colony of a yard, asked for on the day after the last visit.
func BenchmarkOfYard(b *testing.B) {
	for _, n := range []int{1, 30, 200} {
		a := yardOf(b, n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := a.Of(0, mustDate("2026-09-25")); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A year looked back on, of sixty colonies with ten counts and a course each.
func BenchmarkLookBack(b *testing.B) {
	a := yardOf(b, 60)
	for b.Loop() {
		if _, err := a.LookBack(2026, mustDate("2026-12-31"), 0.9); err != nil {
			b.Fatal(err)
		}
	}
}
