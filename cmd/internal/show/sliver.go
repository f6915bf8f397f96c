package show

import (
	"math"
	"strings"
)

// sliverReach is how many times below and above its line a sliver reaches.
const sliverReach = 8

// Sliver draws a density in one row of characters, with the line in its middle
// and half of them on either side, so that slivers below each other compare.
// What lies beyond the ends stands in the first and last character.
func (p Page) Sliver(d Density, line float64, half int) string {
	if p.NoPicture {
		return ""
	}
	parts := d.about(line, half)
	peak := 0.0
	for _, v := range parts {
		peak = math.Max(peak, v)
	}
	g := p.glyphs()
	side := func(parts []float64) string {
		var b strings.Builder
		for _, v := range parts {
			switch n := int(math.Round(8 * v / peak)); {
			case !(peak > 0) || n < 1:
				b.WriteRune(g.past)
			default:
				b.WriteRune(g.part[n-1])
			}
		}
		return p.Paint(Known, b.String())
	}
	return side(parts[:half]) + p.Paint(Line, string(g.line)) + side(parts[half:])
}

// about is the chance of each of half parts below the line and half above it.
func (d Density) about(line float64, half int) []float64 {
	out := make([]float64, 2*half)
	for i, h := range d.Heights {
		// Each level stands for the stretch halfway to its neighbours, which
		// may lie across an edge between two parts.
		low, high := d.Levels[max(i-1, 0)], d.Levels[min(i+1, len(d.Levels)-1)]
		from, to := math.Log(d.Levels[i]*low)/2, math.Log(d.Levels[i]*high)/2
		const pieces = 8
		for k := range pieces {
			x := from + (float64(k)+0.5)/pieces*(to-from)
			part := math.Floor(float64(half) * (1 + (x-math.Log(line))/math.Log(sliverReach)))
			out[int(math.Min(math.Max(part, 0), float64(2*half-1)))] += h * (to - from) / pieces
		}
	}
	return out
}
