package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
	"pgregory.net/rapid"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/drawn"
	"halfcup/decide"
	"halfcup/sampling"
)

// heard is what a command says of one colony: the whole of a judgement, whatever
// fields that has, and the level where one is told.
type heard struct {
	Colony     *string         `json:"colony"`
	Estimate   *levelHeard     `json:"estimate"`
	ChanceOver json.RawMessage `json:"chance_over"`
	Verdict    json.RawMessage `json:"verdict"`
	Regret     json.RawMessage `json:"regret"`
	Threshold  json.RawMessage `json:"threshold"`
	Pooled     *bool           `json:"pooled"`
}

// levelHeard is a level with its limits, in mites per hundred bees, by either of
// the names that commands give them.
type levelHeard struct {
	Median, Low, High float64
}

func (l *levelHeard) UnmarshalJSON(data []byte) error {
	var v map[string]any
	if err := json.Unmarshal(data, &v); err != nil {
		return err
	}
	for name, into := range map[string]*float64{"median": &l.Median, "low": &l.Low, "high": &l.High} {
		for _, key := range []string{name, name + "_per_hundred"} {
			if x, ok := v[key].(float64); ok {
				*into = x
			}
		}
	}
	return nil
}

// differs says in what two commands disagree, "" when in nothing that both tell.
func (h heard) differs(o heard) string {
	if a, b := h.Estimate, o.Estimate; a != nil && b != nil && !(drawn.Near(a.Median, b.Median) && drawn.Near(a.Low, b.Low) && drawn.Near(a.High, b.High)) {
		return fmt.Sprintf("levels %v (%v to %v) and %v (%v to %v)", a.Median, a.Low, a.High, b.Median, b.Low, b.High)
	}
	if h.Pooled != nil && o.Pooled != nil && *h.Pooled != *o.Pooled {
		return fmt.Sprintf("pooled %v and %v", *h.Pooled, *o.Pooled)
	}
	for _, f := range []struct {
		name string
		a, b json.RawMessage
	}{{"chance_over", h.ChanceOver, o.ChanceOver}, {"verdict", h.Verdict, o.Verdict}, {"regret", h.Regret, o.Regret}, {"threshold", h.Threshold, o.Threshold}} {
		if f.a == nil || f.b == nil {
			continue
		}
		if diff := drawn.Apart(f.name, decoded(f.a), decoded(f.b)); diff != "" {
			return diff
		}
	}
	return ""
}

func decoded(data []byte) any {
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		return err.Error()
	}
	return v
}

// refusal is what a command said that gave no answer.
type refusal struct {
	line, text string
	code       int
}

func (r *refusal) Error() string {
	return fmt.Sprintf("halfcup %s: exit %d: %s", r.line, r.code, r.text)
}

// refused reports whether a command had nothing to say, for a reason in which
// the words stand.
func refused(err error, words ...string) bool {
	var r *refusal
	return errors.As(err, &r) && slices.ContainsFunc(words, func(w string) bool { return strings.Contains(r.text, w) })
}

// printed runs a command. Rows that were left out are told in its exit code.
func printed(args ...string) ([]byte, error) {
	var stdout, stderr bytes.Buffer
	if code := run(args, strings.NewReader(""), &stdout, &stderr); code != 0 && (code != 3 || stdout.Len() == 0) {
		return nil, &refusal{line: strings.Join(args, " "), text: strings.Join(strings.Fields(stderr.String()), " "), code: code}
	}
	return stdout.Bytes(), nil
}

// asked runs a command in JSON.
func asked(args ...string) (map[string]json.RawMessage, []byte, error) {
	text, err := printed(append(args, "--format", "json")...)
	if err != nil {
		return nil, nil, err
	}
	var out map[string]json.RawMessage
	return out, text, json.Unmarshal(text, &out)
}

// hear runs a command and reads its JSON into something.
func hear(into any, args ...string) error {
	text, err := printed(append(args, "--format", "json")...)
	if err != nil {
		return err
	}
	return json.Unmarshal(text, into)
}

func mustDay(s string) sampling.Date {
	d, err := sampling.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

// One colony, one answer: whatever the record and the settings, and on whatever
// day, every command says the same of a colony, to the last word of its
// judgement.
//
// Naive, each command puts its own question together: on the demo record
// estimate then had elm over the line with 58 % on a day on which yard had it
// there with 26 %, and calendar sent people to other colonies than yard.
func TestOneColonyOneAnswer(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		a := &agreement{T: r, record: drawn.Of(r), log: filepath.Join(dir, fmt.Sprintf("mill-%d.csv", n))}
		settings := filepath.Join(dir, fmt.Sprintf("settings-%d.toml", n))
		own := drawn.SettingsOf(r).TOML()
		for name, text := range map[string]string{a.log: a.record.CSV(), settings: own} {
			if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
				r.Fatal(err)
			}
			defer os.Remove(name)
		}
		a.on = []string{"--log", a.log, "--settings", settings, "--today", a.record.Today.String()}
		if err := a.check(); err != nil {
			r.Fatalf("%v\n%s\n%s%s", err, strings.Join(a.on, " "), own, a.record.CSV())
		}
	})
}

// agreement holds the commands to each other on one record and day.
type agreement struct {
	*rapid.T
	record drawn.Record
	log    string
	on     []string // flags that every command is asked with

	now []yardHeard
}

// yardHeard is what yard says of one yard.
type yardHeard struct {
	Yard      string
	Colonies  []heard
	Late, Due []dutyHeard
	ToDo      json.RawMessage `json:"to_do"`
}

type dutyHeard struct {
	Kind, Colony, Date string
	Treatment          *string
	Round, Of          *int
	LateDays           int `json:"late_days"`
	Why                *string
}

// ask asks one command of the record.
func (a *agreement) ask(into any, args ...string) error { return hear(into, append(args, a.on...)...) }

func (a *agreement) hear(args ...string) (h heard, err error) { return h, a.ask(&h, args...) }

func (a *agreement) check() error {
	rec, err := a.record.Read()
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, k := range rec.Colonies() {
		if seen[k.Yard] {
			continue
		}
		seen[k.Yard] = true
		var y yardHeard
		err := a.ask(&y, "yard", "--yard", k.Yard)
		if refused(err, "no colony of this yard was alive", "the record has no such yard", "there is no colony in this record") {
			continue
		}
		if err != nil {
			return err
		}
		a.now = append(a.now, y)
	}
	if len(a.now) == 0 {
		return nil
	}
	for _, y := range a.now {
		if err := a.colonies(y); err != nil {
			return err
		}
		if err := a.courses(y); err != nil {
			return err
		}
	}
	if err := a.yards(len(seen)); err != nil {
		return err
	}
	if err := a.calendar(); err != nil {
		return err
	}
	return a.written()
}

// standings are those that decide makes of a yard.
func standings(yard string, on []string) (out []decide.Standing, err error) {
	probe := func(sh *line.Shell) []*cli.Command {
		return []*cli.Command{{Name: "probe", Category: line.GroupSeason, Flags: ask.RulesFlags(), Action: func(c *cli.Context) error {
			rules, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			rec, err := ask.NeedRecord(sh, "a yard")
			if err != nil {
				return err
			}
			a, _, err := rules.Apiary(rec, yard, sh.Today)
			if err != nil {
				return err
			}
			out, err = a.On(sh.Today)
			return err
		}}}
	}
	var stderr bytes.Buffer
	p := line.Program{Commands: []func(*line.Shell) []*cli.Command{probe}}
	if code := p.Run(append([]string{"probe"}, on...), nil, io.Discard, &stderr); code != line.ExitDone && code != line.ExitBadData {
		err = fmt.Errorf("exit %d: %s", code, &stderr)
	}
	return out, err
}

// decided holds yard to decide.
func (a *agreement) decided(y yardHeard) error {
	told, err := standings(y.Yard, a.on)
	if err != nil {
		return err
	}
	for _, k := range y.Colonies {
		i := slices.IndexFunc(told, func(s decide.Standing) bool { return k.Colony != nil && s.Colony == *k.Colony })
		if i < 0 {
			return fmt.Errorf("decide tells nothing of %s of %s", text(k.Colony), y.Yard)
		}
		s := told[i]
		var chance struct{ Watch, Act float64 }
		var v struct {
			Call    string
			Due     string
			DueFor  decide.DueReason `json:"due_for"`
			Late    int              `json:"overdue_days"`
			Advised *struct{ Method *string }
		}
		if err := errors.Join(json.Unmarshal(k.ChanceOver, &chance), json.Unmarshal(k.Verdict, &v)); err != nil {
			return err
		}
		if !drawn.Near(chance.Watch, s.ChanceOverWatch) || !drawn.Near(chance.Act, s.ChanceOverAct) ||
			v.Call != string(s.Call) || v.Due != s.Due.String() || v.DueFor != s.DueFor || v.Late != s.Overdue {
			return fmt.Errorf("%s of %s: yard has %v and %s, decide %v and %v, %s, due %s for %s", s.Colony, y.Yard, chance, k.Verdict, s.ChanceOverWatch, s.ChanceOverAct, s.Call, s.Due, s.DueFor)
		}
		if best := s.Advised; (best.Plan == decide.LookNow) != (v.Advised != nil) || v.Advised != nil && *v.Advised.Method != string(best.Count.Method) {
			return fmt.Errorf("%s of %s: yard advises %s, decide %s %s", s.Colony, y.Yard, k.Verdict, best.Plan, best.Count)
		}
	}
	return nil
}

// colonies holds every command to yard, and yard to decide.
func (a *agreement) colonies(y yardHeard) error {
	if err := a.decided(y); err != nil {
		return err
	}
	more := rapid.IntRange(0, len(y.Colonies)-1).Draw(a.T, "asked more")
	for i, want := range y.Colonies {
		if want.Colony == nil {
			return fmt.Errorf("yard tells of a colony without a name")
		}
		commands := []string{"estimate"}
		if i == more {
			commands = append(commands, "enough", "choose", "forecast", "fits", "tally", "worked")
		}
		for _, command := range commands {
			got, err := a.hear(command, "--yard", y.Yard, "--colony", *want.Colony)
			switch {
			case command == "enough" && refused(err, "never counted"),
				command == "worked" && refused(err, "the record tells of no such treatment", "has no counts before and after"),
				command == "tally" && refused(err, "a treatment works or settles in the hive", "bees do not fly in these weeks"):
				continue
			case err != nil:
				return err
			}
			if diff := got.differs(want); diff != "" {
				return fmt.Errorf("%s of %s, %s against yard: %s", *want.Colony, y.Yard, command, diff)
			}
		}
		if i != more {
			continue
		}
		if err := a.firstDay(y.Yard, want); err != nil {
			return err
		}
	}
	return nil
}

// firstDay holds the first day of a forecast to what is known today.
func (a *agreement) firstDay(yard string, want heard) error {
	var got struct {
		Days []struct {
			Date            string
			Median          float64 `json:"median_per_hundred"`
			ChanceOverAct   float64 `json:"chance_over_act"`
			ChanceOverWatch float64 `json:"chance_over_watch"`
		}
	}
	if err := a.ask(&got, "forecast", "--yard", yard, "--colony", *want.Colony, "--days", "7"); err != nil {
		return err
	}
	var chance struct{ Watch, Act float64 }
	if err := json.Unmarshal(want.ChanceOver, &chance); err != nil {
		return err
	}
	first := got.Days[0]
	if first.Date != a.record.Today.String() || !(math.Abs(first.ChanceOverAct-chance.Act) <= 1e-6 && math.Abs(first.ChanceOverWatch-chance.Watch) <= 1e-6) {
		return fmt.Errorf("%s of %s: forecast begins with %+v, and today it is %+v", *want.Colony, yard, first, chance)
	}
	return nil
}

// courses holds what review says of the courses of a yard to what worked says,
// and the last line of that to yard.
func (a *agreement) courses(y yardHeard) error {
	type course struct {
		Treatment, First  string
		Colonies, Counted []string
		Reduction         *float64 `json:"reduction_percent"`
		Low               *float64 `json:"low_percent"`
		High              *float64 `json:"high_percent"`
		Answer            *string
	}
	var worked, review struct{ Courses []course }
	err := a.ask(&worked, "worked", "--yard", y.Yard)
	if refused(err, "the record tells of no such treatment") {
		return nil
	}
	if err != nil {
		return err
	}
	err = a.ask(&review, "review", "--yard", y.Yard)
	if refused(err, "the record tells of no colony of this yard") {
		err = nil
	}
	if err != nil {
		return err
	}
	for _, c := range worked.Courses {
		for _, d := range review.Courses {
			if c.Treatment != d.Treatment || c.First != d.First || !slices.Equal(slices.Sorted(slices.Values(c.Colonies)), slices.Sorted(slices.Values(d.Colonies))) {
				continue
			}
			if c.Reduction == nil || d.Reduction == nil {
				early := c.Answer != nil && *c.Answer == "cannot tell" // counted, but too soon: review waits for a later count
				if c.Reduction != d.Reduction && !early {
					return fmt.Errorf("%s of %s in %s: worked has %v, review %v", c.Treatment, c.First, y.Yard, text(c), text(d))
				}
				continue
			}
			if !drawn.Near(*c.Reduction, *d.Reduction) || !drawn.Near(*c.Low, *d.Low) || !drawn.Near(*c.High, *d.High) || *c.Answer != *d.Answer {
				return fmt.Errorf("%s of %s in %s: worked has %v, review %v", c.Treatment, c.First, y.Yard, text(c), text(d))
			}
		}
	}
	return a.lastLine(y)
}

func text(v any) string {
	out, _ := json.Marshal(v)
	return string(out)
}

// lastLine holds what worked says at its end is to be treated and counted to
// the calls of yard.
func (a *agreement) lastLine(y yardHeard) error {
	out, err := printed(append([]string{"worked", "--yard", y.Yard}, a.on...)...)
	if err != nil {
		return err
	}
	said := strings.Join(strings.Fields(string(out)), " ")
	for _, part := range []struct {
		head  string
		calls []string
	}{{"to treat: ", []string{"treat", "bring it forward", "treat when supers are off"}}, {"to count: ", []string{"count again"}}} {
		_, names, _ := strings.Cut(said, part.head)
		names, _, _ = strings.Cut(names, ".")
		names, _, _ = strings.Cut(names, ";")
		listed := strings.FieldsFunc(strings.ReplaceAll(names, " and ", ","), func(r rune) bool { return r == ',' || r == ' ' })
		for _, k := range y.Colonies {
			var v struct{ Call string }
			if err := json.Unmarshal(k.Verdict, &v); err != nil {
				return err
			}
			if slices.Contains(part.calls, v.Call) != slices.Contains(listed, *k.Colony) {
				return fmt.Errorf("%s of %s: worked says %s%q, and its call is %q", *k.Colony, y.Yard, part.head, names, v.Call)
			}
		}
	}
	return nil
}

// yards holds the line that a yard has among several to its own answer.
func (a *agreement) yards(all int) error {
	if all < 2 {
		return nil
	}
	var got struct {
		Yards []struct {
			Yard    string
			ToDo    json.RawMessage `json:"to_do"`
			Highest float64         `json:"highest_chance_over_act"`
		}
	}
	if err := a.ask(&got, "yard"); err != nil {
		return err
	}
	for _, y := range a.now {
		i := slices.IndexFunc(got.Yards, func(l struct {
			Yard    string
			ToDo    json.RawMessage `json:"to_do"`
			Highest float64         `json:"highest_chance_over_act"`
		}) bool {
			return l.Yard == y.Yard
		})
		if i < 0 {
			return fmt.Errorf("yard leaves out %s", y.Yard)
		}
		if diff := drawn.Apart("to_do", decoded(got.Yards[i].ToDo), decoded(y.ToDo)); diff != "" {
			return fmt.Errorf("%s among the yards and alone: %s", y.Yard, diff)
		}
		highest := 0.0
		for _, k := range y.Colonies {
			var chance struct{ Act float64 }
			if err := json.Unmarshal(k.ChanceOver, &chance); err != nil {
				return err
			}
			highest = math.Max(highest, chance.Act)
		}
		if !drawn.Near(highest, got.Yards[i].Highest) {
			return fmt.Errorf("%s: highest chance %v among the yards, %v alone", y.Yard, got.Yards[i].Highest, highest)
		}
	}
	return nil
}

// calendar holds the calendar to what yard says is late and due within a week,
// to the days on which the next counts are due, and the file of it to both.
func (a *agreement) calendar() error {
	const days, week = 30, 7
	file := strings.TrimSuffix(a.log, ".csv") + ".ics"
	defer os.Remove(file)
	var calendar struct {
		From   string
		Events []struct {
			Kind, Date, UID string
			Yard            *string
			Duties          []dutyHeard
		}
	}
	if err := a.ask(&calendar, "calendar", "--days", fmt.Sprint(days), "--ics", file); err != nil {
		return err
	}
	ics, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	from := mustDay(calendar.From)
	starts := map[string]int{}
	for _, entry := range strings.Split(strings.ReplaceAll(string(ics), "\r\n ", ""), "BEGIN:VEVENT")[1:] {
		uid, start := "", ""
		for _, l := range strings.Split(entry, "\r\n") {
			if v, ok := strings.CutPrefix(l, "UID:"); ok {
				uid = v
			}
			if v, ok := strings.CutPrefix(l, "DTSTART;VALUE=DATE:"); ok {
				start = v
			}
		}
		starts[uid+" "+start]++
	}
	listed := map[string][]dutyHeard{}
	for _, e := range calendar.Events {
		start := max(mustDay(e.Date), from).Time().Format("20060102")
		if starts[e.UID+" "+start]--; starts[e.UID+" "+start] < 0 {
			return fmt.Errorf("the calendar file has no %s on %s", e.UID, start)
		}
		yard := ""
		if e.Yard != nil {
			yard = *e.Yard
		}
		if e.Kind != string(decide.EventAfter) { // that is another count, after what is still planned
			listed[yard] = append(listed[yard], e.Duties...)
		}
	}
	for entry, n := range starts {
		if n != 0 {
			return fmt.Errorf("the calendar file has %s, and the calendar has not", entry)
		}
	}
	for _, y := range a.now {
		soon := slices.DeleteFunc(slices.Clone(listed[y.Yard]), func(d dutyHeard) bool { return mustDay(d.Date) > from+week })
		if diff := drawn.Apart("duties", sorted(soon), sorted(slices.Concat(y.Late, y.Due))); diff != "" {
			return fmt.Errorf("%s, calendar against yard: %s", y.Yard, diff)
		}
		if err := y.due(listed[y.Yard], from, days); err != nil {
			return err
		}
	}
	return nil
}

// sorted is duties in an order of their own, as read from JSON.
func sorted(duties []dutyHeard) any {
	slices.SortFunc(duties, func(a, b dutyHeard) int { return cmp.Compare(text(a), text(b)) })
	return decoded([]byte(text(append([]dutyHeard{}, duties...))))
}

// due holds the counts of a calendar of some days to the days on which colonies
// are due.
func (y yardHeard) due(listed []dutyHeard, from sampling.Date, days int) error {
	on := map[string]string{}
	for _, d := range listed {
		if d.Kind != "count" && d.Kind != "check" {
			continue
		}
		if _, twice := on[d.Colony]; twice {
			return fmt.Errorf("calendar lists %s twice", d.Colony)
		}
		on[d.Colony] = d.Date
	}
	for _, k := range y.Colonies {
		var v struct{ Due string }
		if err := json.Unmarshal(k.Verdict, &v); err != nil {
			return err
		}
		got, there := on[*k.Colony]
		switch {
		case there != (mustDay(v.Due) <= from+sampling.Date(days)):
			return fmt.Errorf("%s is due on %s, and the calendar from %s lists it: %v", *k.Colony, v.Due, from, there)
		case there && got != v.Due:
			return fmt.Errorf("%s is due on %s, by the calendar on %s", *k.Colony, v.Due, got)
		}
	}
	return nil
}

// written writes something down, and holds what log add says to what estimate
// says of the record afterwards; a count, to what it says of the count when it is
// typed. What was taken back is as if it had never been written.
func (a *agreement) written() error {
	y := a.now[rapid.IntRange(0, len(a.now)-1).Draw(a.T, "yard")]
	k := y.Colonies[rapid.IntRange(0, len(y.Colonies)-1).Draw(a.T, "written")]
	who := []string{"--yard", y.Yard, "--colony", *k.Colony}
	mites := rapid.IntRange(0, 20).Draw(a.T, "mites")
	what := rapid.SampledFrom([][]string{
		{fmt.Sprintf("roll:%d/300", mites)}, {fmt.Sprintf("wash:%d/0.5cup/2f", mites)}, {fmt.Sprintf("board:%d/3d", mites)},
		{fmt.Sprintf("roll:%d/300", mites), fmt.Sprintf("wash:%d/300", mites/2), "--pair", "fresh"},
		{"--treatment", "oxalic-vapour"}, {"--treatment", "amitraz-strip"}, {"--event", "swarmed"}, {"--event", "supers-on"},
		{"--event", "inspection", "--brood", "no"}, {"--event", "died"},
	}).Draw(a.T, "what")
	typed := heard{}
	if len(what) == 1 {
		var err error
		if typed, err = a.hear(slices.Concat([]string{"estimate", what[0]}, who)...); err != nil {
			return err
		}
	}
	var added struct{ Now []heard }
	err := a.ask(&added, slices.Concat([]string{"log", "add"}, what, who, []string{"--again"})...)
	if refused(err, "nothing was written") {
		return nil
	}
	if err != nil {
		return err
	}
	after, err := a.hear(append([]string{"estimate"}, who...)...)
	switch {
	case refused(err, "died or was united"):
		if len(added.Now) != 0 {
			return fmt.Errorf("log add tells of %s, which is no more", *k.Colony)
		}
	case err != nil:
		return err
	case len(added.Now) != 1:
		return fmt.Errorf("log add %s of %s tells of %d colonies", strings.Join(what, " "), *k.Colony, len(added.Now))
	default:
		if diff := added.Now[0].differs(after); diff != "" {
			return fmt.Errorf("%s, log add %s against estimate: %s", *k.Colony, strings.Join(what, " "), diff)
		}
		if diff := typed.differs(after); diff != "" {
			return fmt.Errorf("%s, %s typed against written: %s", *k.Colony, what[0], diff)
		}
	}
	if err := a.ask(&struct{}{}, "undo"); err != nil {
		return err
	}
	back, err := a.hear(append([]string{"estimate"}, who...)...)
	if err != nil {
		return err
	}
	if diff := back.differs(k); diff != "" {
		return fmt.Errorf("%s after %s was taken back: %s", *k.Colony, strings.Join(what, " "), diff)
	}
	return nil
}

// A count says the same wherever it is put: on the line, into a table, or into a
// record in which nothing else stands.
func TestOneCountOneAnswer(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		base := filepath.Join(dir, fmt.Sprint(n))
		settings := base + ".toml"
		own := drawn.SettingsOf(r).TOML()
		if err := os.WriteFile(settings, []byte(own), 0o666); err != nil {
			r.Fatal(err)
		}
		defer os.Remove(settings)
		day := sampling.Day(2025, 1, 1) + sampling.Date(rapid.IntRange(0, 364).Draw(r, "day"))
		mites := rapid.IntRange(0, 40).Draw(r, "mites")
		method := rapid.SampledFrom([]string{"wash", "roll", "co2", "board"}).Draw(r, "method")
		amount, frames := "3d", ""
		if method != "board" {
			amount = rapid.SampledFrom([]string{"300", "0.5cup", "100"}).Draw(r, "amount")
			frames = rapid.SampledFrom([]string{"1", "3"}).Draw(r, "frames")
		}
		typed := fmt.Sprintf("%s:%d/%s", method, mites, amount)
		if frames != "" {
			typed += "/" + frames + "f"
		}
		table := base + ".csv"
		rows := fmt.Sprintf("date,method,mites,bees,frames\n%s,%s,%d,%s,%s\n", day, method, mites, amount, frames)
		if err := os.WriteFile(table, []byte(rows), 0o666); err != nil {
			r.Fatal(err)
		}
		defer os.Remove(table)
		on := []string{"--settings", settings, "--today", day.String()}
		fail := func(err error) { r.Fatalf("%s on %s: %v\n%s", typed, day, err, own) }
		var want struct {
			heard
			Line struct{ Watch, Act float64 } `json:"-"`
		}
		if err := hear(&want, append([]string{"estimate", typed}, on...)...); err != nil {
			fail(err)
		}
		text, err := printed(append([]string{"batch", table, "--format", "json"}, on...)...)
		if err != nil {
			fail(err)
		}
		var got struct {
			Median float64 `json:"median"`
			Low    float64 `json:"low"`
			High   float64 `json:"high"`
			Watch  float64 `json:"watch"`
			Act    float64 `json:"act"`
			Over   float64 `json:"chance_over_act"`
			Near   float64 `json:"chance_over_watch"`
			Call   string  `json:"call"`
		}
		if err := json.Unmarshal(text, &got); err != nil {
			fail(fmt.Errorf("%w: %s", err, text))
		}
		var chance struct{ Watch, Act float64 }
		var verdict struct{ Call string }
		if err := errors.Join(json.Unmarshal(want.ChanceOver, &chance), json.Unmarshal(want.Verdict, &verdict), json.Unmarshal(want.Threshold, &want.Line)); err != nil {
			fail(err)
		}
		e := want.Estimate
		if !drawn.Near(got.Median, e.Median) || !drawn.Near(got.Low, e.Low) || !drawn.Near(got.High, e.High) || !drawn.Near(got.Over, chance.Act) || !drawn.Near(got.Near, chance.Watch) ||
			!drawn.Near(got.Watch, want.Line.Watch) || !drawn.Near(got.Act, want.Line.Act) || got.Call != verdict.Call {
			fail(fmt.Errorf("batch has %+v, and estimate %+v %+v %+v %s", got, *e, chance, want.Line, verdict.Call))
		}
		for _, command := range []string{"choose", "enough", "forecast", "fits"} {
			other := heard{}
			if err := hear(&other, append([]string{command, typed}, on...)...); err != nil {
				fail(err)
			}
			if diff := other.differs(want.heard); diff != "" {
				fail(fmt.Errorf("%s against estimate: %s", command, diff))
			}
		}
	})
}
