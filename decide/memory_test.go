package decide

import (
	"reflect"
	"testing"
)

// An apiary with a memory says what one without says, whatever is written down
// between two questions. A memory that goes by name and day alone would not see
// the count that came, nor that the year was moved.
func TestMemoryChangesNoAnswer(t *testing.T) {
	day := mustDate("2026-07-25")
	southern, err := NewYear(YearSettings{Hemisphere: South})
	if err != nil {
		t.Fatal(err)
	}
	yard := func(elm ...string) Apiary {
		a := apiaryOf(t, colonyOf(t, elm...), colonyOf(t, "roll:0/300@2026-07-01"))
		a.Colonies[0].Name, a.Colonies[1].Name = "elm", "ash"
		return a
	}
	moved := yard("roll:2/300@2026-06-20")
	for i := range moved.Colonies {
		moved.Colonies[i].Year = southern
	}
	var memory Memory
	said := map[float64]bool{}
	for _, plain := range []Apiary{yard("roll:2/300@2026-06-20"), yard("roll:2/300@2026-06-20", "roll:9/300@2026-07-25"), yard("roll:2/300@2026-06-20"), moved} {
		with := plain
		with.Memory = &memory
		for i := range with.Colonies {
			if err := with.Prepare(i, day); err != nil {
				t.Fatal(err)
			}
		}
		want, err := plain.On(day)
		if err != nil {
			t.Fatal(err)
		}
		look, err := with.Look(day)
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range want {
			g, err := look.Of(i)
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(w.Known, g.Known) || w.Call != g.Call || w.Due != g.Due || w.Because != g.Because || !reflect.DeepEqual(w.Evidence, g.Evidence) {
				t.Errorf("%s with a memory: %v, due %s, %v; without: %v, due %s, %v", w.Colony, g.Call, g.Due, g.Known.Summary(0.9), w.Call, w.Due, w.Known.Summary(0.9))
			}
		}
		said[want[0].Known.Quantile(0.5)] = true
	}
	if len(said) != 3 {
		t.Errorf("the questions are too much alike: %v", said)
	}
}

// A yard that is asked of again after one more count: most of it is known.
func BenchmarkMemory(b *testing.B) {
	for name, memory := range map[string]*Memory{"with": {}, "without": nil} {
		b.Run(name, func(b *testing.B) {
			a := yardOf(b, 30)
			a.Memory = memory
			for b.Loop() {
				if _, err := a.Look(mustDate("2026-09-25")); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
