package decide_test

import (
	"fmt"

	"halfcup/decide"
	"halfcup/sampling"
)

// From a count as it is written down to what to do: a sugar roll of half a cup
// of bees off one frame of an invented colony.
func Example() {
	count, err := sampling.ParseCount("roll:14/0.5cup@2026-07-20")
	if err != nil {
		fmt.Println(err)
		return
	}
	year, err := decide.NewYear(decide.YearSettings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	lines, err := decide.ThresholdSet(decide.DefaultThresholds)
	if err != nil {
		fmt.Println(err)
		return
	}
	standings, err := decide.Apiary{
		Rules: decide.Rules{Lines: lines, MissCost: decide.DefaultMissCost, MinWorth: decide.DefaultMinWorth, Costs: decide.DefaultCosts()},
		Colonies: []decide.Colony{{
			Name: "alder",
			History: decide.History{
				Assumptions: sampling.DefaultAssumptions(), Year: year, Rates: decide.DefaultRates(),
				Counts: []sampling.Count{count},
			},
		}},
	}.On(count.Date)
	if err != nil {
		fmt.Println(err)
		return
	}
	s := standings[0]
	fmt.Printf("%s: about %.1f mites per hundred bees\n", s.Colony, 100*s.Known.Quantile(0.5))
	fmt.Printf("chance of being over the line of %.1f: %.0f %%\n", s.Line.Act, 100*s.ChanceOverAct)
	fmt.Printf("%s; count by %s\n", s.Call, s.Due)
	// Output:
	// alder: about 4.8 mites per hundred bees
	// chance of being over the line of 2.4: 96 %
	// treat; count by 2026-07-27
}
