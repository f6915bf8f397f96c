package table

import (
	"reflect"
	"strings"
	"testing"
)

func TestRead(t *testing.T) {
	for text, want := range map[string][]map[string]string{
		"":                           nil,
		"a,b\n":                      {},
		"# made by hand\na,b\n1,x\n": {{"a": "1", "b": "x"}},
		"a,b\n\"1,2\",\n#3,4\n":      {{"a": "1,2", "b": ""}},
	} {
		got, err := Read(strings.NewReader(text))
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %v, %v, want %v", text, got, err, want)
		}
	}
	if _, err := Read(strings.NewReader("a,b\n1\n")); err == nil {
		t.Error("a row that lacks a cell is read")
	}
}

func TestEmbeddedPanicsOnOurMistakes(t *testing.T) {
	for name, f := range map[string]func(){
		"a torn row": func() { Embedded("a,b\n1\n") },
		"a word":     func() { Number("many") },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error(name, "is passed over")
				}
			}()
			f()
		}()
	}
}
