package fieldlog

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/sampling"
)

func renamedOn(day int, old, now string) Event {
	return Event{Date: sampling.Day(2026, 6, day), Colony: now, Kind: Renamed, Other: old}
}

// A colony that is renamed has all its rows under the new name, and what was
// split from it is a part of that; the old name may go to another colony from the
// day after. The plain way, to look for rows of the name that is asked for, finds
// one row where there are three.
func TestRenamed(t *testing.T) {
	r := read(t, "date,colony,event,method,mites,amount,pair\n"+
		"2026-06-01,alder,count,roll,1,300,\n2026-06-02,birch,split,,,,Alder\n2026-06-10,willow,renamed,,,,alder\n"+
		"2026-06-12,willow,count,roll,2,300,\n2026-06-15,alder,hived,,,,\n2026-06-16,alder,count,roll,9,300,\n")
	if bad := r.Check(sampling.Day(2026, 6, 20)); len(bad) > 0 {
		t.Fatal(problemsOf(bad))
	}
	own, err := r.History("", "willow")
	if err != nil || len(own) != 3 || own[0].Count.Mites != 1 || own[0].Named != "alder" {
		t.Errorf("%v: %v", err, lay(own))
	}
	naive := slices.DeleteFunc(r.Once(), func(e Event) bool { return e.Written().Colony != "willow" || e.Kind == Renamed })
	if len(naive) == len(own) {
		t.Error("the rows of that name are all there are: the test shows nothing")
	}
	if parts := r.Parts(Colony{"", "willow"}); len(parts) != 1 || parts[0].Other != "willow" {
		t.Errorf("its parts are %v", lay(parts))
	}
	if other, err := r.History("", "alder"); err != nil || len(other) != 2 {
		t.Errorf("%v: the new alder has %v", err, lay(other))
	}
}

// What a record says of rows that a new name cannot go with.
func TestRenamedInDoubt(t *testing.T) {
	const head = "date,colony,event,method,mites,amount,pair\n2026-06-01,alder,count,roll,1,300,\n"
	for rows, want := range map[string]string{
		"2026-06-10,willow,renamed,,,,elder\n":                                     "no row up to that day tells of a colony elder",
		"2026-06-02,birch,count,roll,1,300,\n2026-06-10,birch,renamed,,,,alder\n":  "birch was a colony already on 2026-06-02",
		"2026-06-10,willow,renamed,,,,alder\n2026-06-12,alder,count,roll,1,300,\n": "alder is called willow since 2026-06-10",
		"2026-06-10,willow,renamed,,,,\n":                                          "the name that it had is missing",
		"2026-06-10,Alder,renamed,,,,alder\n":                                      "both colonies have the same name",
	} {
		if got := problemsOf(read(t, head+rows).Check(sampling.Day(2026, 6, 20))); !strings.Contains(got, want) {
			t.Errorf("%s: want %s\n%s", rows, want, got)
		}
	}
}

// Nothing is cut: to take the new name back brings the old one back, keys that
// rows had before it hold, and the bytes that stood there stand.
func TestRenamedAndTakenBack(t *testing.T) {
	path := file(t, "date,colony,event,method,mites,amount,pair\n2026-06-01,alder,count,roll,1,300,\n2026-06-02,alder,count,roll,2,300,\n")
	before := content(t, path)
	write := func(e Event) *Record {
		t.Helper()
		a, err := Append(path, []Event{e}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return a.Record
	}
	old, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	key := old.Key(old.Events[1])
	r := write(renamedOn(10, "alder", "willow"))
	if got := r.Key(r.Events[1]); got != key {
		t.Errorf("the row is called %s, and was %s", got, key)
	}
	r = write(Event{Date: sampling.Day(2026, 6, 11), Colony: "willow", Kind: Undo, UndoOf: key})
	if own, err := r.History("", "willow"); err != nil || len(own) != 2 {
		t.Errorf("%v: %v", err, lay(own))
	}
	r = write(Event{Date: sampling.Day(2026, 6, 12), Colony: "willow", Kind: Undo, UndoOf: r.Key(r.Events[2])})
	if own, err := r.History("", "alder"); err != nil || len(own) != 1 || own[0].Named != "" {
		t.Errorf("%v: %v", err, lay(own))
	}
	if got := content(t, path); !strings.HasPrefix(strings.ReplaceAll(got, ",undo_of", ""), strings.SplitAfter(before, "\n")[0]) || strings.Count(got, "alder,count") != 2 {
		t.Errorf("the record has changed: %s", got)
	}
}

// A record that is read on from where it was is the record read anew, however
// colonies are renamed in it.
func TestRenamedReadOn(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		name := rapid.SampledFrom([]string{"a", "b", "c", "d"})
		text := "date,colony,event,method,mites,amount,pair,id,undo_of\n"
		var known *Record
		for i := range rapid.IntRange(1, 12).Draw(r, "rows") {
			day := sampling.Day(2026, 6, rapid.IntRange(1, 6).Draw(r, "day"))
			colony := name.Draw(r, "colony")
			row := ""
			switch rapid.IntRange(0, 3).Draw(r, "what") {
			case 0:
				row = day.String() + "," + colony + ",renamed,,,," + name.Filter(func(s string) bool { return s != colony }).Draw(r, "old") + ",h" + string(rune('1'+i%9)) + ",\n"
			case 1:
				row = day.String() + "," + colony + ",undo,,,,,,h" + string(rune('1'+i/2)) + "\n"
			default:
				row = day.String() + "," + colony + ",count,roll," + string(rune('0'+i%10)) + ",300,,,\n"
			}
			text += row
			anew, err := Read("log.csv", strings.NewReader(text))
			if err != nil {
				r.Fatal(err)
			}
			if known == nil {
				known = anew
				continue
			}
			if known, err = known.extended(row); err != nil {
				r.Fatal(err)
			}
			if a, b := lay(known.Events), lay(anew.Events); !slices.Equal(a, b) || !slices.Equal(known.Colonies(), anew.Colonies()) {
				r.Fatalf("read on:\n%s\nanew:\n%s\n%v %v", strings.Join(a, "\n"), strings.Join(b, "\n"), known.Colonies(), anew.Colonies())
			}
		}
	})
}
