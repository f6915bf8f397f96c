package sampling

import "testing"

// The cost of one count made known: likelihood and product, kernels cached.
func BenchmarkUpdate(b *testing.B) {
	for _, text := range []string{"wash:6/300", "roll:6/300", "roll:6/0.5cup/3f", "board:24/3d"} {
		b.Run(text, func(b *testing.B) {
			a := DefaultAssumptions()
			c, err := ParseCount(text)
			if err != nil {
				b.Fatal(err)
			}
			d := a.Prior.Density()
			b.ReportAllocs()
			for b.Loop() {
				l, err := a.Likelihood(c)
				if err != nil {
					b.Fatal(err)
				}
				if _, err := d.Times(l); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkInterval(b *testing.B) {
	for b.Loop() {
		if _, _, err := Garwood.limits(7, 312, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
