package season

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

func (r *review) print(w io.Writer, p show.Page) {
	fmt.Fprint(w, p.Wrap(p.Paint(show.Strong, r.first()), 0), "\n")
	r.printColonies(w, p)
	fmt.Fprint(w, p.Wrap(r.slowWords(), 0))
	if len(r.Courses) > 0 {
		fmt.Fprintln(w)
		r.printCourses(w, p)
	}
	fmt.Fprint(w, "\n", p.Wrap(r.figureWords(), 0), p.Wrap(r.lossWords(), 0))
	fmt.Fprint(w, "\n"+p.Paint(show.Strong, "For the next year:")+"\n")
	for i, s := range r.lessons() {
		fmt.Fprint(w, p.Hang(fmt.Sprintf("%d. %s", i+1, s), 0, 3))
	}
}

// first is the year in a sentence.
func (r *review) first() string {
	name := ""
	if r.yard != "" {
		name = show.Printable(r.yard) + ", "
	}
	counts, washed, died, over := 0, 0.0, 0, 0
	for _, k := range r.Colonies {
		counts, washed = counts+k.Counts, washed+k.BeesWashed
		if k.Died {
			died++
		}
		if k.FoundOver > 0 {
			over++
		}
	}
	n := len(r.Colonies)
	out := fmt.Sprintf("%s%s: %d of %s found over the line", name, r.called(), over, show.Many(n, "colony", "colonies"))
	if died > 0 {
		out += fmt.Sprintf(", %d died", died)
	}
	return out + fmt.Sprintf(". %s, %.0f bees washed.", show.Many(counts, "count", "counts"), washed)
}

// counts is how many were made.
func (r *review) counts() int {
	n := 0
	for _, k := range r.Colonies {
		n += k.Counts
	}
	return n
}

// called is the year by its number, or by two where it runs from July to June.
func (r *review) called() string {
	if end := r.Ends.Time().Year(); end != r.Year {
		return fmt.Sprintf("%d/%02d", r.Year, end%100)
	}
	return strconv.Itoa(r.Year)
}

// letter stands for a course in the rows of the colonies.
func letter(course int) string {
	out := string(rune('A' + course%26))
	if course >= 26 {
		out += fmt.Sprint(course / 26)
	}
	return out
}

// Columns of a colony's line, without its name and its courses.
const (
	highestWide = 11
	weeksWide   = 5
	countsWide  = 6
	beesWide    = 5
	growthWide  = 17
)

func (r *review) printColonies(w io.Writer, p show.Page) {
	name := 4
	for _, k := range r.Colonies {
		name = max(name, show.Wide(show.Printable(k.Colony)))
	}
	name = min(name, 14)
	head := func(cells ...string) {
		fmt.Fprintln(w, strings.TrimRight(show.Cell(cells[0], name, false)+"  "+show.Cell(cells[1], highestWide, false)+" "+show.Cell(cells[2], weeksWide, true)+" "+
			show.Cell(cells[3], countsWide, true)+" "+show.Cell(cells[4], beesWide, true)+"  "+show.Cell(cells[5], growthWide, false)+" "+cells[6], " "))
	}
	rest := p.Width - name - highestWide - weeksWide - countsWide - beesWide - growthWide - 8
	if rest < 10 { // a narrow page
		r.printBlocks(w, p)
		return
	}
	head("", "highest", "weeks", "", "bees", "growth beside", "what each")
	head("hive", "per hundred", "over", "counts", "spent", "the others", "course left")
	for _, k := range r.Colonies {
		head(show.Printable(k.Colony), highestWords(k), weeksWords(k), fmt.Sprint(k.Counts), show.Fixed(k.BeesWashed, 0), paceWords(k), show.Cell(r.leftWords(k), rest, false))
	}
}

// printBlocks gives a colony lines of its own, for a narrow page.
func (r *review) printBlocks(w io.Writer, p show.Page) {
	for _, k := range r.Colonies {
		s := fmt.Sprintf("%s: highest %s per hundred, %s weeks over, %s, %.0f bees spent", show.Printable(k.Colony), highestWords(k), weeksWords(k), show.Many(k.Counts, "count", "counts"), k.BeesWashed)
		if k.Pace != nil {
			s += "; growth beside the others " + paceWords(k)
		}
		if left := r.leftWords(k); left != "" {
			s += "; courses left " + left
		}
		fmt.Fprint(w, p.Hang(s, 0, 4))
	}
}

func highestWords(k decide.ColonyBack) string {
	if math.IsNaN(k.Highest) {
		return "not known"
	}
	return show.Level(k.Highest) + " " + shortDay(k.HighestOn)
}

// weeksWords are the weeks over the line, as far as anything was known.
func weeksWords(k decide.ColonyBack) string {
	if k.Known == 0 {
		return "–"
	}
	return show.Fixed(k.WeeksOver, 1)
}

// paceWords is the growth beside the others, with a mark where these were not
// treated alike.
func paceWords(k decide.ColonyBack) string {
	if k.Pace == nil {
		return "too few counts"
	}
	f := k.Pace.Factor
	of := show.Levels(f.Low, f.High, f.Low, f.Middle, f.High)
	s := fmt.Sprintf("%s (%s–%s)", of[1], of[0], of[2])
	if !k.Alike {
		s += "*"
	}
	return s
}

// leftWords is what the courses left of a colony's mites, and what became of
// it.
func (r *review) leftWords(k decide.ColonyBack) string {
	var parts []string
	for _, l := range k.Courses {
		parts = append(parts, letter(l.Course)+" "+show.Level(l.Left))
	}
	switch {
	case k.Died:
		parts = append(parts, "died "+shortDay(k.Gone))
	case !k.Gone.IsZero():
		parts = append(parts, "united "+shortDay(k.Gone))
	}
	return strings.Join(parts, ", ")
}

const slowerMites = "Slower mites than in the colonies treated alike, and with what chance: %s. Candidates to breed from, no proof of resistance. %s. %s%s"

// slowWords names the colonies whose mites grew slower, and how far that can be
// trusted.
func (r *review) slowWords() string {
	if r.Ranked == 0 {
		return "Nothing is said of slow growth: that takes three colonies treated alike and counted at least twice, three weeks apart."
	}
	by := fmt.Sprintf("Were all %d alike, chance alone would name %s.", r.Ranked, few(r.Alone))
	starred := ""
	for _, k := range r.Colonies {
		if k.Pace != nil && !k.Alike {
			starred = " * treated unlike the others: not ranked."
		}
	}
	if len(r.Slow) == 0 {
		return "No colony's mites grew clearly slower than those of the colonies treated alike. " + by + starred
	}
	var names []string
	for _, i := range r.Slow {
		k := r.Colonies[i]
		names = append(names, fmt.Sprintf("%s (%s)", show.Printable(k.Colony), show.Percent(k.Pace.Slower)))
	}
	of := "This name is wrong with a chance of " + show.Percent(r.Wrong)
	if len(r.Slow) > 1 {
		of = fmt.Sprintf("Of these %d names about %s are wrong", len(r.Slow), show.Digits(r.Wrong, 2, 1))
	}
	return fmt.Sprintf(slowerMites, show.List(names), of, by, starred)
}

// few is how often chance alone names a colony, n a year.
func few(n float64) string {
	if n < 0.75 {
		return fmt.Sprintf("one in about 1 year of %.0f", 1/n)
	}
	return "about " + show.Digits(n, 2, 1) + " a year"
}

func (r *review) printCourses(w io.Writer, p show.Page) {
	t := show.Table{Columns: []show.Column{{Name: "course"}, {Name: "begun"}, {Name: "hives", Right: true}, {Name: "counted", Right: true}, {Name: "it took", Right: true}, {Name: "published", Right: true}, {Name: "failed in", Flow: true}}}
	for i, c := range r.Courses {
		took, failed := "–", ""
		if e := c.Efficacy; e != nil {
			took, failed = rangeWords(e.Reduction.Middle, e.Reduction.Low, e.Reduction.High), "none"
		}
		if len(c.Failed) > 0 {
			failed = say.Some(c.Failed, len(c.Counted), 30)
		}
		t.Rows = append(t.Rows, []string{letter(i) + " " + c.Treatment.Called, shortDay(c.First), fmt.Sprint(len(c.Colonies)), fmt.Sprint(len(c.Counted)), took, publishedWords(c), failed})
	}
	fmt.Fprint(w, p.Table(t))
}

// publishedWords is what the published kills of a course come to.
func publishedWords(c decide.CourseBack) string {
	if c.Expected == (decide.Range{}) {
		return "–"
	}
	return fmt.Sprintf("%s to %s", show.Percent(c.Expected.Low), show.Percent(c.Expected.High))
}

// rangeWords is a share with its limits. One below none is told as that.
func rangeWords(middle, low, high float64) string {
	return fmt.Sprintf("%s (%s–%s)", say.Took(middle), strings.TrimSuffix(say.Took(low), "%"), say.Took(high))
}

// figureWords is what the pairs of the record taught, and which would teach
// most.
func (r *review) figureWords() string {
	var own, books []string
	for _, t := range r.taught {
		if !t.known {
			books = append(books, taughtWords(t))
			continue
		}
		figure, before := show.Percent(t.RecoveryAfter.Mean())+" of the mites found", show.Percent(t.RecoveryBefore.Mean())
		if t.Teaching.Method == sampling.Board {
			figure, before = show.Level(t.FallAfter.MedianPerDayPerHundred)+" mites a day for each per hundred", show.Level(t.FallBefore.MedianPerDayPerHundred)
		}
		own = append(own, fmt.Sprintf("%s %s (%s; books %s)", taughtWords(t), figure, show.Many(t.Pairs, "pair", "pairs"), before))
	}
	switch {
	case r.counts() == 0:
		return "No count was made."
	case r.taught == nil:
		return "Your own figures: only washes were made, and those need none. How unlike two frames are stays a figure of the books."
	}
	out := "Your own figures: none"
	if own != nil {
		out = "Your own figures: " + strings.Join(own, ", ")
	}
	return out + ". From the books: " + show.List(append(books, "how unlike two frames are")) + ". " + r.teachWords()
}

// taughtWords is a way of counting.
func taughtWords(t taught) string {
	out := t.Teaching.Method.Title()
	if t.Teaching.Weather != "" {
		out = string(t.Teaching.Weather) + " " + out
	}
	if t.Teaching.Broodless {
		out += " without brood"
	}
	return out
}

// teachWords is which pairs would teach most.
func (r *review) teachWords() string {
	if len(r.taught) == 0 || r.taught[0].worth() <= 0 {
		return ""
	}
	t := r.taught[0]
	how := "a wash of the same bees after each"
	if t.Teaching.Method == sampling.Board {
		how = "a wash beside each"
	}
	return fmt.Sprintf("Three pairs would teach most of the %s, %s: the doubt in %s would go from a factor of %.2f to %.2f.",
		taughtWords(t), how, show.Many(t.counts, "count", "counts"), math.Exp(t.Now), math.Exp(t.Then))
}

// lossWords is who died, by the level of autumn.
func (r *review) lossWords() string {
	if len(r.Losses) == 0 {
		return "No colony was counted in autumn, so that no loss can be set beside its mites."
	}
	var parts []string
	for _, l := range r.Losses {
		span := fmt.Sprintf("%.0f to %.0f", l.From, l.To)
		switch {
		case math.IsInf(l.To, 1):
			span = fmt.Sprintf("over %.0f", l.From)
		case l.From == 0:
			span = fmt.Sprintf("under %.0f", l.To)
		}
		parts = append(parts, fmt.Sprintf("%s: %d of %d (%s to %s)", span, l.Died, l.Colonies, show.Digits(l.Low, 2, 1), show.Digits(l.High, 2, 1)))
	}
	out := "Died, by mites per hundred in autumn, and in brackets by open data of one winter: " + strings.Join(parts, "; ") + "."
	if !r.WinterOver {
		out += " The winter is not over."
	}
	return out
}

// lateShare is one in how many colonies must have been counted late for all to
// be counted earlier.
const lateShare = 5

// lessons are three sentences for the next year.
func (r *review) lessons() []string {
	var out []string
	n := len(r.Colonies)
	switch e := r.CountEarlier; {
	case r.counts() == 0:
		out = append(out, "Count: nobody knows of mites that nobody looked for.")
	case e.Colonies > 0 && lateShare*e.Colonies >= n:
		out = append(out, fmt.Sprintf("Count about %s: %s passed the line about then and %s counted about %s.", say.ShortDay(e.Over), show.Many(e.Colonies, "colony", "colonies"), wasWere(e.Colonies), say.ShortDay(e.Counted)))
	case e.Colonies > 0:
		out = append(out, fmt.Sprintf("Count as you did: only %d of %s was found over its line two weeks late or more.", e.Colonies, show.Many(n, "colony", "colonies")))
	default:
		out = append(out, "Count as you did: no colony was found over its line two weeks late or more.")
	}
	if l := r.LateCourse; l.Course >= 0 {
		c := r.Courses[l.Course]
		out = append(out, fmt.Sprintf("The %s of %s came late: %d of %s had been over the line for about %d days.", c.Treatment.Called, say.ShortDay(c.First), l.Colonies, show.Many(len(c.Colonies), "colony", "colonies"), l.Days))
	} else if len(r.Courses) > 0 {
		out = append(out, "No course is known to have come late.")
	} else {
		out = append(out, "No treatment is written down: if one was given, write it with halfcup log add.")
	}
	return append(out, r.guess())
}

// guess is the figure that is least known for the counts it reads.
func (r *review) guess() string {
	for _, t := range r.taught {
		if t.worth() > 0 {
			what := "what a " + taughtWords(t) + " finds"
			if t.Teaching.Method == sampling.Board {
				what = "how many mites fall on a " + taughtWords(t)
			}
			if t.known {
				return fmt.Sprintf("Least sure is still %s, after %s: make three more.", what, show.Many(t.Pairs, "pair", "pairs"))
			}
			return fmt.Sprintf("Still a guess is %s here: make three pairs.", what)
		}
	}
	for _, c := range r.Courses {
		if len(c.Counted) == 0 {
			return fmt.Sprintf("Still a guess is what %s did: count before it and from two weeks after it.", c.Treatment.Called)
		}
	}
	return "Still a guess is how unlike two frames are: take a sample from where the brood is, and the same way each time."
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

const reviewWhy = "Every level is that of halfcup estimate as the record told it that week; weeks in which the last count was older than 45 days are left out, and weeks over the line are the sum of their chances. " +
	"For growth the record is replayed with mites that breed faster and slower than the model has it, from the colony's first count of the year to its last, and what the counts say to that is pooled over the colonies: the less one was counted, the more it is taken to be like the others. " +
	"Growth is a factor a month with brood beside a typical colony of those treated alike, with limits of %s; luck from month to month and what nobody wrote down are allowed for, so that one year tells little of one colony. " +
	"A treatment that was not written down looks like slow growth. " +
	"A colony is named when its mites grew slower with a chance of %s or more; in 1200 invented yards 156 of 1385 names were wrong, where their chances said 177. " +
	"What a course took is worked out as halfcup worked does, from counts before and after it; published is the range of published kills in a colony of that time of year. " +
	"Losses are beside open data of one winter, in which most colonies were treated afterwards."

func (r *review) explain() string {
	return fmt.Sprintf(reviewWhy,
		say.Percent(r.level), say.Percent(decide.SlowEnough()))
}
