package decide

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

// What a record leads to, where the answer was wrong before growth was unsure,
// records incomplete and treatments a mixture. The limits are ours, set by what
// an adviser would say: a fresh count outweighs a forecast of three months.
func TestWhatRecordsLeadTo(t *testing.T) {
	vapour := treatment(t, "oxalic-vapour")
	fourRounds := []TreatmentDay{{On: mustDate("2026-07-16"), Treatment: vapour}, {On: mustDate("2026-07-21"), Treatment: vapour}, {On: mustDate("2026-07-26"), Treatment: vapour}, {On: mustDate("2026-07-31"), Treatment: vapour}}
	state := func(on string, given []TreatmentDay, counts ...string) State {
		h := counted(t, 3, counts...).History
		h.Treatments = given
		s, err := h.On(mustDate(on))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	median := func(d sampling.Density) float64 { return 100 * d.Quantile(0.5) }
	within := func(what string, got, low, high float64) {
		t.Helper()
		t.Logf("%s: %.3g", what, got)
		if !(got >= low && got <= high) {
			t.Errorf("%s: %.3g, want %v to %v", what, got, low, high)
		}
	}
	forecast := func(s State, on string) sampling.Density {
		d, err := s.Forecast(mustDate(on))
		if err != nil {
			t.Fatal(err)
		}
		return d
	}

	s := state("2026-09-06", nil, "wash:9/300@2026-06-12", "wash:0/300@2026-09-06")
	within("9, then none: median", median(s.Known), 0, 0.6)
	within("chance of something unrecorded", s.UnrecordedEvent, 0.9, 1)
	if a, err := s.Alarms(1); err != nil || !a.Drop || a.Jump {
		t.Errorf("9, then none: %+v, %v", a, err)
	}
	alone := median(state("2026-09-06", nil, "wash:3/300@2026-09-06").Known)
	within("9, then 3, beside the 3 alone", median(state("2026-09-06", nil, "wash:9/300@2026-06-12", "wash:3/300@2026-09-06").Known)/alone, 0.9, 1.1)

	within("none in April and October: the day after", median(state("2026-10-03", nil, "wash:0/300@2026-04-12", "wash:0/300@2026-10-02").Known), 0, 1)

	s = state("2026-08-14", fourRounds, "roll:55/400@2026-07-16", "wash:0/300/3f@2026-08-14")
	within("four rounds of vapour, then none: median", median(s.Known), 0.2, 0.5)
	within("chance of over 1", s.Known.Over(0.01), 0, 0.1)

	within("3 in April: 9 August", median(forecast(state("2026-04-15", nil, "wash:3/300@2026-04-15"), "2026-08-09")), 4, 12)

	d := forecast(state("2026-08-20", nil, "wash:1/300@2026-08-20"), "2026-11-14")
	q := d.Quantiles(0.1, 0.5, 0.9)
	within("1 in August: 14 November", 100*q[1], 0, 6)
	within("80 % limits, ratio", q[2]/q[0], 1, 20)
	within("chance of over 10", d.Over(0.1), 0, 0.2)
}

// From one day to the next, nothing happening, what is known moves little: the
// median by a tenth at most, chances by seven points, up to six months after a
// count made on any day of the year. Further on than that, the chance that
// something unrecorded happened nears a half; where the record leads to many
// mites, the median then crosses from the one mode to the other, by up to an
// eighth a day.
func TestDaysFollowEachOther(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		h := counted(t, 3).History
		h.Arrivals = rapid.SampledFrom([]float64{0, 2}).Draw(r, "arrivals")
		first := mustDate("2026-01-01") + sampling.Date(rapid.IntRange(0, 364).Draw(r, "day"))
		bees := rapid.SampledFrom([]int{50, 100, 300, 600}).Draw(r, "bees")
		c := Scooped(rapid.SampledFrom([]sampling.Method{sampling.Roll, sampling.Wash}).Draw(r, "method"), bees, rapid.IntRange(1, 3).Draw(r, "frames"), first)
		level := math.Exp(rapid.Float64Range(math.Log(0.05), math.Log(30)).Draw(r, "level"))
		c.Mites = int(math.Round(level / 100 * float64(bees)))
		h.Counts = []sampling.Count{c}
		s, err := h.On(first)
		if err != nil {
			r.Fatal(err)
		}
		last := s.Known
		for day := first + 1; day <= first+180; day++ {
			d, err := s.Forecast(day)
			if err != nil {
				r.Fatal(err)
			}
			if step := math.Log(d.Quantile(0.5) / last.Quantile(0.5)); !(math.Abs(step) <= math.Log(1.1)) {
				r.Fatalf("%s: the median goes from %.4g to %.4g", day, last.Quantile(0.5), d.Quantile(0.5))
			}
			for _, line := range []float64{0.005, 0.01, 0.02, 0.03} {
				if step := d.Over(line) - last.Over(line); !(math.Abs(step) <= 0.07) {
					r.Fatalf("%s: the chance of over %v goes from %.3f to %.3f", day, line, last.Over(line), d.Over(line))
				}
			}
			last = d
		}
	})
}

// A season of one colony: twelve counts and a course. A yard of two hundred is
// answered in two seconds when one takes four milliseconds.
func BenchmarkSeason(b *testing.B) {
	h := counted(b, 3).History
	h.Arrivals, h.Ahead = 2, 150
	first := mustDate("2026-04-15")
	for i := range 12 {
		c := Scooped(sampling.Roll, 300, 1, first+sampling.Date(17*i))
		c.Mites = i % 5
		h.Counts = append(h.Counts, c)
	}
	for i := range 4 {
		h.Treatments = append(h.Treatments, TreatmentDay{On: first + 90 + sampling.Date(5*i), Treatment: treatment(b, "oxalic-vapour")})
	}
	for b.Loop() {
		if _, err := h.On(first + 200); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkForecast(b *testing.B) {
	s := counted(b, 3, "roll:3/300").State
	for b.Loop() {
		if _, err := s.Ahead(90, func(sampling.Date) float64 { return 3 }); err != nil {
			b.Fatal(err)
		}
	}
}
