package treat

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// lookedBack is how many days of courses are those of the season: a year, so
// that the winter treatment is among them in spring.
const lookedBack = 365

// yardCourse is one course that some colonies of a yard were given in the same
// weeks.
type yardCourse struct {
	first, last sampling.Date
	treated     []treatedColony
	*worked
	leftOut []string // colonies without counts before and late enough after
}

// workedYardAnswer is every course of a yard; its JSON is halfcup.worked-yard/2.
type workedYardAnswer struct {
	Yard        *string           `json:"yard"`
	Date        sampling.Date     `json:"date"`
	Courses     []yardCourseJSON  `json:"courses"`
	Cautions    []string          `json:"cautions"`
	Assumptions []sampling.Source `json:"assumptions"`

	courses  []*yardCourse
	standing []decide.Standing
}

// yardCourseJSON is one course; what nobody counted is null.
type yardCourseJSON struct {
	Treatment        string         `json:"treatment"`
	Active           string         `json:"active"`
	First            sampling.Date  `json:"first"`
	Last             sampling.Date  `json:"last"`
	Colonies         []string       `json:"colonies"`
	LeftOut          []string       `json:"left_out"`
	CappedBrood      bool           `json:"capped_brood"`
	ReductionPercent show.Number    `json:"reduction_percent"`
	LowPercent       show.Number    `json:"low_percent"`
	HighPercent      show.Number    `json:"high_percent"`
	TargetPercent    show.Number    `json:"target_percent"`
	Promised         *bareJSON      `json:"promised"`
	Answer           *decide.Answer `json:"answer"`
	Sentence         string         `json:"sentence"`
}

// workedYard judges every course of a yard, by its ingredient.
func workedYard(sh *line.Shell, c *cli.Context) error {
	if _, err := askedForm(c); err != nil {
		return err
	}
	a, err := readAsked(sh, c)
	if err != nil {
		return err
	}
	rec, err := ask.NeedRecord(sh, "a treatment")
	if err != nil {
		return err
	}
	ask.Doubt(sh, rec)
	asked, err := askedCourse(c, a)
	if err != nil {
		return err
	}
	name := c.String("yard")
	for _, k := range rec.Colonies() {
		if fieldlog.SameName(k.Yard) == fieldlog.SameName(name) {
			name = k.Yard
			break
		}
	}
	y, err := readYard(sh, a, rec, name)
	if err != nil {
		return err
	}
	answer, err := judgeYard(c, a, y, asked)
	if err != nil {
		return err
	}
	return sh.Write(line.Answer{
		Schema:   "halfcup.worked-yard/2",
		JSON:     answer,
		CSV:      answer.csv(),
		Text:     func(w io.Writer) { answer.print(w, sh.Page) },
		Warnings: answer.warnings(),
		Explain:  answer.explain(),
	})
}

func judgeYard(c *cli.Context, a *worked, y yardRecord, asked func(decide.Course) bool) (*workedYardAnswer, error) {
	out := &workedYardAnswer{Yard: say.Said(y.name), Date: y.today, Courses: []yardCourseJSON{}, Assumptions: []sampling.Source{}}
	out.courses = y.courses(asked)
	if len(out.courses) == 0 {
		return nil, noSuchTreatment(y.name, y.today)
	}
	var names []string
	for _, course := range out.courses {
		own := *a
		course.worked = &own
		form, leftOut, err := own.judge(c, course.treated)
		if err != nil {
			return nil, err
		}
		own.form, course.leftOut = form, leftOut
		for _, t := range course.treated {
			courses := slices.DeleteFunc(y.given(t.Colony), func(c decide.Course) bool { return c.First > t.course.First })
			if mode, n := decide.Repeated(courses); n > own.repeated.times {
				own.repeated = repeated{mode, n}
			}
		}
		names = append(names, own.treatment.Slug)
		j := course.json()
		out.Courses = append(out.Courses, j)
		if form != nil {
			var all workedJSON
			form.json(&own, &all)
			for _, s := range all.Assumptions {
				if !slices.Contains(out.Assumptions, s) {
					out.Assumptions = append(out.Assumptions, s)
				}
			}
		}
	}
	slices.Sort(names)
	out.Cautions = say.Cautions(slices.Compact(names)...)
	var err error
	out.standing, err = y.apiary().On(y.today)
	return out, err
}

// courses are those of the season, each with the colonies that were given the
// same in the same weeks, by their first day.
func (y yardRecord) courses(asked func(decide.Course) bool) []*yardCourse {
	var out []*yardCourse
	season := func(c decide.Course) bool { return asked(c) && c.First > y.today-lookedBack }
	for _, g := range y.apiary().SharedCourses(y.today, season) {
		c := &yardCourse{first: g.First, last: g.Last}
		for _, o := range g.Given {
			c.treated = append(c.treated, treatedColony{y.colonies[o.Colony], o.Course})
		}
		out = append(out, c)
	}
	return out
}

// whom is the colonies in a few words.
func (g *yardCourse) whom() string {
	if len(g.treated) == 1 {
		return g.treated[0].Name
	}
	return fmt.Sprintf("%d colonies", len(g.treated))
}

func (g *yardCourse) json() yardCourseJSON {
	t := g.treated[0].course.Treatment
	missing := show.Number(math.NaN())
	out := yardCourseJSON{
		Treatment: t.Slug, Active: t.Active, First: g.first, Last: g.last, Colonies: []string{}, LeftOut: append([]string{}, g.leftOut...),
		ReductionPercent: missing, LowPercent: missing, HighPercent: missing, TargetPercent: missing,
		Sentence: g.subject(g.whom()) + ": not counted before and after it.",
	}
	for _, t := range g.treated {
		out.Colonies = append(out.Colonies, t.Name)
	}
	if g.form == nil {
		return out
	}
	all := bareOf(g.Reduction)
	out.ReductionPercent, out.LowPercent, out.HighPercent = all.ReductionPercent, all.LowPercent, all.HighPercent
	out.TargetPercent, out.CappedBrood, out.Answer, out.Sentence = show.Number(100*g.target), g.capped, &g.answer, g.form.verdict(g.worked)
	if r, ok := g.promised(); ok {
		out.Promised = &bareJSON{show.Number(100 * r.Middle), show.Number(100 * r.Low), show.Number(100 * r.High)}
	}
	return out
}

func (y *workedYardAnswer) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, y.verdict()), 0))
	t := show.Table{Columns: []show.Column{{Name: "treatment"}, {Name: "begun"}, {Name: "colonies"}, {Name: "it took", Right: true}, {Name: "expected", Right: true}, {Name: "answer", Flow: true}}}
	for _, g := range y.courses {
		row := []string{g.treated[0].course.Treatment.Called, say.ShortDay(g.first), g.whom(), "–", "–", "not counted"}
		if g.form != nil {
			row[3], row[4], row[5] = limits(g.Reduction), say.Percent(g.target), string(g.answer)
		}
		t.Rows = append(t.Rows, row)
	}
	fmt.Fprint(w, "\n", p.Table(t))
	if s := y.uncounted(); s != "" {
		fmt.Fprint(w, p.Wrap(s, 0))
	}
	fmt.Fprint(w, p.Wrap(y.left(), 0))
	for _, g := range y.courses {
		if s := g.resistance(); s != "" {
			fmt.Fprint(w, "\n", p.Wrap(g.subject(g.whom())+": "+s, 0))
		}
	}
}

// verdict is how many courses did their work.
func (y *workedYardAnswer) verdict() string {
	counts := map[decide.Answer]int{}
	unjudged := 0
	for _, g := range y.courses {
		if g.form == nil {
			unjudged++
			continue
		}
		counts[g.answer]++
	}
	var parts []string
	for _, part := range []struct {
		n    int
		what string
	}{{counts[decide.Worked], "worked"}, {counts[decide.DidNot], "did less than it should"}, {counts[decide.CannotTell], "cannot be told"}, {unjudged, "not counted"}} {
		if part.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", part.n, part.what))
		}
	}
	where := say.Capital(say.ShortDay(y.Date))
	if y.Yard != nil {
		where = *y.Yard + ", " + say.ShortDay(y.Date)
	}
	return fmt.Sprintf("%s: of %s in twelve months %s.", where, show.Many(len(y.courses), "course", "courses"), show.List(parts))
}

// uncounted names the colonies of courses that were judged without them.
func (y *workedYardAnswer) uncounted() string {
	var parts []string
	for _, g := range y.courses {
		if len(g.leftOut) > 0 {
			parts = append(parts, fmt.Sprintf("%s (%s of %s)", show.List(g.leftOut), g.treated[0].course.Treatment.Called, say.ShortDay(g.first)))
		}
	}
	if parts == nil {
		return ""
	}
	return "Not counted before and late enough after: " + strings.Join(parts, "; ") + "."
}

// left is what the colonies need now.
func (y *workedYardAnswer) left() string {
	var treat, count []string
	for _, s := range y.standing {
		switch {
		case s.Call.Treats():
			treat = append(treat, s.Colony)
		case s.Call == decide.CountAgain:
			count = append(count, s.Colony)
		}
	}
	var parts []string
	if treat != nil {
		parts = append(parts, "to treat: "+show.List(treat))
	}
	if count != nil {
		parts = append(parts, "to count: "+show.List(count))
	}
	if parts == nil {
		return "Now: nothing to treat, nothing to count. halfcup yard tells how each colony stands."
	}
	return "Now " + strings.Join(parts, "; ") + ". halfcup yard tells how each colony stands."
}

func (y *workedYardAnswer) warnings() []say.Warning {
	var out []string
	for _, g := range y.courses {
		for _, t := range g.treated {
			for _, s := range t.Unread {
				if !slices.Contains(out, s) {
					out = append(out, s)
				}
			}
		}
	}
	return append(say.Warn(say.LeftOut, out...), say.Warn(say.Caution, y.Cautions...)...)
}

func (y *workedYardAnswer) explain() string {
	var parts []string
	for _, g := range y.courses {
		if g.form != nil {
			parts = append(parts, g.form.verdict(g.worked)+" "+g.form.explain(g.worked))
		}
	}
	if parts == nil {
		return "No course of this yard was counted before and after it, so nobody knows what it did."
	}
	return strings.Join(parts, "\n")
}

func (y *workedYardAnswer) csv() show.CSV {
	out := show.CSV{Head: []string{"yard", "treatment", "first", "last", "colonies", "reduction_percent", "low_percent", "high_percent", "target_percent", "answer"}}
	for _, c := range y.Courses {
		var answer any
		if c.Answer != nil {
			answer = string(*c.Answer)
		}
		var yard any
		if y.Yard != nil {
			yard = *y.Yard
		}
		out.Rows = append(out.Rows, []any{yard, c.Treatment, c.First, c.Last, strings.Join(c.Colonies, " "), c.ReductionPercent, c.LowPercent, c.HighPercent, c.TargetPercent, answer})
	}
	return out
}
