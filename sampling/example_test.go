package sampling_test

import (
	"errors"
	"fmt"
	"strings"

	"halfcup/sampling"
)

// From the notes of one visit to what is known: a sugar roll from three frames,
// and a wash of a scoop of the same colony.
func Example() {
	a := sampling.DefaultAssumptions()
	var counts []sampling.Count
	for _, s := range []string{"roll:7/312/3f", "wash:8/0.5cup"} {
		c, err := sampling.ParseCount(s)
		if err != nil {
			fmt.Println(err)
			return
		}
		counts = append(counts, c)
	}
	known, evidence, err := a.Weigh(a.Prior.Density(), counts)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range evidence {
		fmt.Printf("%s moves the median from %.1f to %.1f\n", e.Count, e.MedianBefore, e.MedianAfter)
	}
	s := known.Summary(0.95)
	fmt.Printf("%.1f mites per hundred bees, 95 %% from %.1f to %.1f\n", s.Median, s.Low, s.High)
	fmt.Printf("chance of more than 2 per hundred: %.0f %%\n", 100*known.Over(0.02))
	// Output:
	// roll:7/312/3f moves the median from 1.0 to 2.4
	// wash:8/0.5cup moves the median from 2.4 to 2.5
	// 2.5 mites per hundred bees, 95 % from 1.3 to 4.5
	// chance of more than 2 per hundred: 77 %
}

// The limits of a bare count: no mite in the sample is not no mite in the hive.
func ExampleNewInterval() {
	for _, mites := range []int{0, 9} {
		i, err := sampling.NewInterval(sampling.Garwood, mites, 300, 0.95)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%d mites in 300 bees: %.2f to %.2f per hundred, coverage %.3f\n", mites, 100*i.Low, 100*i.High, i.Achieved)
	}
	// Output:
	// 0 mites in 300 bees: 0.00 to 1.23 per hundred, coverage 0.986
	// 9 mites in 300 bees: 1.37 to 5.69 per hundred, coverage 0.957
}

// An error points at what it could not read.
func ExampleParseCount_error() {
	_, err := sampling.ParseCount("wash:1,200/300")
	var syntax *sampling.SyntaxError
	if errors.As(err, &syntax) {
		fmt.Println(syntax.Input)
		fmt.Println(strings.Repeat(" ", syntax.Offset) + strings.Repeat("^", syntax.Length))
		fmt.Println(syntax.Problem)
		fmt.Println(syntax.Remedy)
	}
	// Output:
	// wash:1,200/300
	//       ^
	// "," inside a number can be read two ways
	// write thousands without a mark (1200) and decimals with a point (0.5)
}

// What a wash would show that is not yet made.
func ExampleAssumptions_Foresee() {
	a := sampling.DefaultAssumptions()
	roll, _ := sampling.ParseCount("roll:4/300")
	wash, _ := sampling.ParseCount("wash:0/300")
	p, err := a.Foresee(a.Prior.Density(), []sampling.Count{roll}, wash)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("chance of nine mites or more: %.0f %%\n", 100*p.Chance(9, true))
	// Output:
	// chance of nine mites or more: 15 %
}
