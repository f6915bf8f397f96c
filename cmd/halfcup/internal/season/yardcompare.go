package season

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// comparison is two years of a yard, like beside like; its JSON is
// halfcup.yard-compare/3.
type comparison struct {
	Yard  string        `json:"yard"`
	Level float64       `json:"level"`
	Years [2]int        `json:"years"` // the one asked for first
	Until sampling.Date `json:"until"`

	Pairs       []pairJSON        `json:"pairs"` // counts of one colony in the same weeks of both years
	LeftOut     []string          `json:"left_out"`
	Lost        [2]int            `json:"lost"`      // colonies that died, by year
	Counted     [2]int            `json:"counted"`   // colonies that were counted, by year
	Ratio       *say.Range        `json:"ratio"`     // of this year to the other; null with fewer than three colonies
	Colonies    int               `json:"colonies"`  // with at least one pair
	SameWeek    int               `json:"same_week"` // days
	Assumptions []sampling.Source `json:"assumptions"`
}

// pairJSON is a colony on a day of either year, as its own record tells it.
type pairJSON struct {
	Colony string           `json:"colony"`
	Dates  [2]sampling.Date `json:"dates"`
	Levels [2]float64       `json:"median_per_hundred"`
}

func compareYears(sh *line.Shell, c *cli.Context, y *yard) error {
	year, err := line.Whole(c, "compare")
	if err != nil {
		return err
	}
	this := y.day.Time().Year()
	switch {
	case year == this:
		return line.BadValue("compare", strconv.Itoa(year), "this is the year itself", "give another year, or ask of a day of another year with --today")
	case year > this:
		return line.BadValue("compare", strconv.Itoa(year), "that year is still to come", "give an earlier year")
	}
	out, err := y.compared(year, this)
	if err != nil {
		return err
	}
	if out.Counted[0] == 0 {
		return line.BadValue("compare", strconv.Itoa(year), fmt.Sprintf("the record has no count of %d", year), "compare with a year that is in it")
	}
	return sh.Write(line.Answer{
		Schema: "halfcup.yard-compare/3", JSON: out, CSV: out.csv(),
		Text:     func(w io.Writer) { out.print(w, sh.Page) },
		Warnings: y.warnings(),
		Explain:  out.explain(),
	})
}

// compared is what decide sets beside each other, as it is written.
func (y *yard) compared(year, this int) (*comparison, error) {
	out := &comparison{Yard: y.name, Level: y.level, Years: [2]int{year, this}, Until: y.day, Pairs: []pairJSON{}, SameWeek: decide.SameWeek}
	b, err := y.apiary.Beside(out.Years, y.level)
	if err != nil {
		return nil, err
	}
	for _, p := range b.Pairs {
		out.Pairs = append(out.Pairs, pairJSON(p))
	}
	var counts []sampling.Count
	for _, k := range y.apiary.Colonies {
		counts = append(counts, k.Counts...)
	}
	out.LeftOut, out.Lost, out.Counted, out.Colonies = append([]string{}, b.LeftOut...), b.Lost, b.Counted, b.Colonies
	out.Assumptions = y.Sources(counts...)
	if b.Ratio != nil {
		r := say.RangeOf(*b.Ratio)
		out.Ratio = &r
	}
	return out, nil
}

func (c *comparison) first() string {
	name := ""
	if c.Yard != "" {
		name = show.Printable(c.Yard) + ", "
	}
	head := fmt.Sprintf("%s%d beside %d: ", name, c.Years[1], c.Years[0])
	ratio := func(years string) string {
		f := show.Levels(c.Ratio.Low, c.Ratio.High, c.Ratio.Low, c.Ratio.Median, c.Ratio.High)
		return fmt.Sprintf("%s times as many%s (%s to %s).", f[1], years, f[0], f[2])
	}
	switch r := c.Ratio; {
	case c.Colonies == 0:
		return head + fmt.Sprintf("they cannot be compared. No colony was counted within %d days of the same date in both years.", decide.SameWeek)
	case r == nil:
		return head + fmt.Sprintf("too few to say. Only %s was counted in the same weeks of both years.", show.Many(c.Colonies, "colony", "colonies"))
	case r.Low > 1:
		return head + "more mites this year, " + ratio("")
	case r.High < 1:
		return head + "fewer mites this year, " + ratio("")
	default:
		return head + "too close to call, " + ratio(" this year")
	}
}

func (c *comparison) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, c.first()), 0))
	if len(c.Pairs) > 0 {
		name := 6
		for _, k := range c.Pairs {
			name = max(name, show.Wide(show.Printable(k.Colony)))
		}
		name = min(name, 24)
		fmt.Fprintf(w, "\n  %s  %s  %s\n", show.Cell("hive", name, false), show.Cell(fmt.Sprintf("%d, per hundred", c.Years[0]), 20, true), show.Cell(fmt.Sprintf("%d, per hundred", c.Years[1]), 20, true))
		for _, k := range c.Pairs {
			cell := func(i int) string {
				return show.Cell(fmt.Sprintf("%s  %s", shortDay(k.Dates[i]), show.Cell(show.Level(k.Levels[i]), 5, true)), 20, true)
			}
			fmt.Fprintf(w, "  %s  %s  %s\n", show.Cell(show.Printable(k.Colony), name, false), cell(0), cell(1))
		}
	}
	var also []string
	if n := len(c.LeftOut); n > 0 && c.Colonies > 0 {
		also = append(also, fmt.Sprintf("Left out: %s, not counted in the same weeks of both years.", show.Many(n, "colony", "colonies")))
	}
	if c.Lost != [2]int{} {
		also = append(also, fmt.Sprintf("Lost: %d in %d, %d in %d.", c.Lost[0], c.Years[0], c.Lost[1], c.Years[1]))
	}
	if len(also) > 0 {
		fmt.Fprint(w, "\n", p.Wrap(strings.Join(also, " "), 0))
	}
}

const compareWhy = "Each count of %d is set beside the one of the same colony of %d that was made within %d days of the same date, as either colony's own record tells it that day; a colony without such a pair is left out, because June beside April would compare months and not years. " +
	"The figure is the typical colony's, with limits from how much the colonies differ. " +
	"A level of few bees is pulled toward what is usual at that time of the year, and with it the two years toward each other."

func (c *comparison) explain() string {
	return fmt.Sprintf(compareWhy, c.Years[1], c.Years[0], decide.SameWeek)
}

func (c *comparison) csv() show.CSV {
	t := show.CSV{Head: []string{"colony", "date_then", "date_now", "median_then_per_hundred", "median_now_per_hundred"}}
	for _, p := range c.Pairs {
		t.Rows = append(t.Rows, []any{p.Colony, p.Dates[0], p.Dates[1], p.Levels[0], p.Levels[1]})
	}
	return t
}
