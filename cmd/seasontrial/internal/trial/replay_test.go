package trial

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mathext"

	"halfcup/internal/long"
	"halfcup/sampling"
)

// openWashes are the 437 washes of Aurell et al. 2025, J Econ Entomol, doi
// 10.1093/jee/toaf126 (CC BY 4.0); see testdata/open/README.md.
func openWashes(t *testing.T) []Wash {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "..", "..", "..", "testdata", "open", "washes-2022.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	washes, err := ReadWashes(file)
	if err != nil {
		t.Fatal(err)
	}
	return washes
}

// What is foretold of a wash from one level is the negative binomial law, by the
// incomplete beta function.
func TestForetoldIsTheNegativeBinomial(t *testing.T) {
	sharp := sampling.Normal(math.Log(0.02), 0.02) // a factor of 2 % either way changes nothing in the second place
	const k = 1 / (washScatter * washScatter)
	for _, mites := range []int{0, 1, 6, 15, 30} {
		w := Wash{Mites: mites, Bees: 300}
		f, err := foretell(sharp, w)
		if err != nil {
			t.Fatal(err)
		}
		exact := mathext.RegIncBeta(k, float64(mites+1), k/(k+6))
		if got := f.fewer + f.chance; !(math.Abs(got-exact) <= 5e-4) {
			t.Errorf("%d mites or fewer: %.5f, exactly %.5f", mites, got, exact)
		}
	}
}

// A predictor that is right holds 90 % and has the highest log score; one that
// is too sure holds less, one that is too low has its middle above one half.
func TestReplayTellsGoodPredictorsFromBad(t *testing.T) {
	const n = 1500
	var washes []Wash
	for i := range uint64(n) {
		s := newSource(3, i)
		theta := 0.02 * s.spread(0.8)
		for visit := range 2 {
			washes = append(washes, Wash{
				Colony: fmt.Sprint(i), Yard: fmt.Sprint(i % 3), Visit: fmt.Sprint(visit), Day: sampling.Day(2022, 5, 1+visit),
				Bees: 300, Mites: s.events(300 * theta * s.gamma(washScatter)),
			})
		}
	}
	scores := map[string]Score{}
	for name, d := range map[string]sampling.Density{
		"right": sampling.Normal(math.Log(0.02), 0.8),
		"sure":  sampling.Normal(math.Log(0.02), 0.3),
		"low":   sampling.Normal(math.Log(0.01), 0.8),
	} {
		r, err := Replay(washes, func(p Past) (sampling.Density, error) {
			for _, o := range p.Others {
				if o.Yard == p.Earlier[0].Yard {
					t.Fatal("a yard is foretold from its own washes")
				}
			}
			if len(p.Earlier) != 1 || len(p.Others) != 2*n*2/3 {
				t.Fatalf("%d earlier washes and %d of others", len(p.Earlier), len(p.Others))
			}
			return d, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		if r.All.N != n || len(r.Yards) != 3 || len(r.Visits) != 1 {
			t.Fatalf("%+v", r)
		}
		scores[name] = r.All
	}
	right := scores["right"]
	if !(math.Abs(right.Share90-0.9) <= 4*right.ShareSE) || !(right.Held >= right.Share90) || !(math.Abs(right.Middle-0.5) <= 0.03) {
		t.Errorf("right: %+v", right)
	}
	if s := scores["sure"]; !(s.Share90 < 0.75) || !(s.Log < right.Log) {
		t.Errorf("too sure: %+v", s)
	}
	if s := scores["low"]; !(s.Middle > 0.6) || !(s.Log < right.Log) {
		t.Errorf("too low: %+v", s)
	}
}

// The open washes through the program as it is: 260 washes follow an earlier one.
// The figures are shown and not held to anything here but that they are there.
func TestReplayOfTheOpenWashes(t *testing.T) {
	washes := openWashes(t)
	if len(washes) != 437 {
		t.Fatalf("%d washes", len(washes))
	}
	for _, earlier := range []int{0, 30, 40}[:long.Of(1, 3)] {
		engine, err := Engine(earlier)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Replay(washes, engine)
		if err != nil {
			t.Fatal(err)
		}
		if r.All.N != 261 {
			t.Errorf("%d washes were foretold", r.All.N)
		}
		for _, s := range append(append([]Score{r.All}, r.Visits...), r.Yards...) {
			t.Logf("%2d days earlier, %-9s n %3d held %.3f share %.3f ±%.3f middle %.2f log %.3f ±%.3f", earlier, s.Name, s.N, s.Held, s.Share90, s.ShareSE, s.Middle, s.Log, s.LogSE)
		}
		if !(r.All.Log > -10) || !(r.All.Share90 > 0.5) {
			t.Errorf("the program foretells nothing: %+v", r.All)
		}
	}
}

func TestReadWashesNamesTheLine(t *testing.T) {
	const head = "colony,yard,treatment,visit,date,mites,bees\n"
	for text, want := range map[string]string{
		"":                                     "first line",
		"colony,yard\n":                        "no column treatment",
		head + "a,A,none,x,2022-05-01,1,0\n":   "line 2",
		head + "a,A,none,x,2022-05-01,-1,9\n":  "line 2",
		head + "a,A,none,x,2022-05-01,one,9\n": "line 2",
		head + "a,A,none,x,May,1,9\n":          "line 2",
		head + "a,A\n":                         "line 2",
	} {
		if _, err := ReadWashes(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
