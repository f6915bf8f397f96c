package say

import (
	"testing"

	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// Words of a column fit it: 25 columns for what a duty is about, 13 for its
// name.
func TestDutyWordsFit(t *testing.T) {
	whys := []decide.DueReason{decide.DueFirst, decide.DueAge, decide.DueForecast, decide.DueBackIn, decide.DueNeighbour, decide.DueSettled, decide.DueCheck, decide.DueTreat, decide.DueAgain, decide.DueSpring, decide.DueMidsummer, decide.DueArrivals, decide.DueFirstFly}
	for _, why := range whys {
		if s := DueFor(why); show.Wide(s) > 25 {
			t.Errorf("%s: %d columns in %q", why, show.Wide(s), s)
		}
	}
	for _, k := range []decide.DutyKind{decide.DutyTakeOut, decide.DutyConfirm, decide.DutyRound, decide.DutyTreat, decide.DutyBoardOut, decide.DutyQueenOut, decide.DutyDroneOut, decide.DutyCheck, decide.DutyCount, decide.DutyTreatment, decide.DutySupers} {
		if s := DutyName(k); s == "" || show.Wide(s) > 13 {
			t.Errorf("%s: %q", k, s)
		}
		if s := DutyWords(decide.Duty{Kind: k, Why: decide.DueAge, Treatment: sampling.Treatments()[0], Round: 2, Of: 3}); s == "" {
			t.Errorf("%s is about nothing", k)
		}
	}
}

// As many names as there is room for, and how many more there are.
func TestSome(t *testing.T) {
	for _, c := range []struct {
		names      []string
		all, width int
		want       string
	}{
		{[]string{"elm"}, 9, 10, "elm"},
		{[]string{"elm", "hazel"}, 9, 13, "elm and hazel"},
		{[]string{"elm", "hazel"}, 9, 12, "2 colonies"},
		{[]string{"elm", "hazel", "oak"}, 3, 20, "elm, hazel and oak"},
		{[]string{"elm", "hazel", "oak", "ash"}, 4, 20, "all 4"},
		{[]string{"elm", "hazel", "oak", "ash"}, 5, 21, "elm, hazel and 2 more"},
		{[]string{"elm", "hazel", "oak", "ash"}, 5, 20, "elm and 3 more"},
		{[]string{"érable", "Östlich", "oak"}, 5, 17, "érable and 2 more"},
		{[]string{"a very long name of a hive"}, 5, 10, "a very long name of a hive"},
	} {
		if got := Some(c.names, c.all, c.width); got != c.want {
			t.Errorf("%v in %d columns: %q, want %q", c.names, c.width, got, c.want)
		}
	}
}
