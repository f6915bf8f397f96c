package keep

import (
	"fmt"
	"slices"

	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// remarks are sentences about colonies, those that are alike said once.
type remarks struct {
	said  []string
	whose map[string][]string
}

func (r *remarks) add(colony, s string) {
	if r.whose == nil {
		r.whose = map[string][]string{}
	}
	if r.whose[s] == nil {
		r.said = append(r.said, s)
	}
	if !slices.Contains(r.whose[s], colony) {
		r.whose[s] = append(r.whose[s], colony)
	}
}

func (r *remarks) sentences() []string {
	var out []string
	for _, s := range r.said {
		out = append(out, show.List(r.whose[s])+": "+s+".")
	}
	return out
}

// treated is what is to be told when treatments are written down: what speaks
// against them, when they are to come out, and their cautions.
func (a *added) treated(today sampling.Date) []say.Warning {
	var objections, out remarks
	var slugs []string
	for _, e := range a.Events {
		t, err := e.Treatment.Find()
		if e.Kind != fieldlog.Treatment || err != nil {
			continue
		}
		if !slices.Contains(slugs, t.Slug) {
			slugs = append(slugs, t.Slug)
		}
		s, ok := a.standings[fieldlog.Of(e)]
		if !ok {
			continue
		}
		next, others, begins := courseOf(s.Situation().History.Courses(today), e.Date, t)
		supers := s.Situation().Supers.Times
		if e.Date > today { // by then they may be off
			supers = slices.DeleteFunc(slices.Clone(supers), func(s decide.Supers) bool { return s.Off.IsZero() })
		}
		for _, o := range decide.Objections(s.Situation().History.Year, others, supers, next) {
			// A further round of a course is a fault only where there is to be one.
			if begins || o.Kind == decide.ObjectSecondTrickle {
				objections.add(e.Colony, say.Objection(o, next))
			}
		}
		if begins && next.OutUsual() {
			out.add(e.Colony, fmt.Sprintf("the usual day out of %s is about %s; your label's wins. Write it down with until DAY, and it is the one that counts", t.Called, say.ShortDay(next.OutDue())))
		}
	}
	return slices.Concat(say.Warn(say.Written, objections.sentences()...), say.Warn(say.Assumed, out.sentences()...), say.Warn(say.Caution, say.Cautions(slugs...)...))
}

// courseOf is the course that a round belongs to, the others, and whether it is
// the first of its rounds.
func courseOf(courses []decide.Course, on sampling.Date, t sampling.Treatment) (c decide.Course, others []decide.Course, begins bool) {
	for _, o := range courses {
		if slices.Contains(o.Rounds, on) && o.Treatment.Slug == t.Slug {
			c = o
		} else {
			others = append(others, o)
		}
	}
	return c, others, c.First == on
}
