package fieldlog

import (
	"strings"
	"testing"
)

// A count in the words of the trade is the count in the words of the program;
// and without a word for the event it is a count. The plain way, to take the
// cells as they stand, reads none of these rows.
func TestCountsInTheWordsOfPeople(t *testing.T) {
	const head = "date;colony;event;method;mites;amount;frames\n"
	for row, same := range map[string]string{
		"count;sugar shake;4;half a cup;":           "count;roll;4;0.5cup;",
		"Count;Powdered Sugar;4.0;1/2 cup;3 frames": "count;roll;4;0.5cup;3",
		";Alcohol wash;4;300 bees;":                 "count;wash;4;300;",
		"count;soap-wash;4;300.0;":                  "count;wash;4;300;",
		"count;CARBON DIOXIDE;4;one cup;":           "count;co2;4;1cup;",
		"count;sticky board;12;3 days;":             "count;board;12;3d;",
		"count;natural fall;12;36 hours 33/99;":     "count;board;12;36h 33/99;",
		"count;wash;5;41,5 grams 17,6 g/100;":       "count;wash;5;41.5g 17.6g/100;",
		"count;wash;5;1 1/2 cups;":                  "count;wash;5;1.5cup;",
	} {
		got, want := read(t, head+"2026-06-01;alder;"+row+"\n"), read(t, head+"2026-06-01;alder;"+same+"\n")
		if len(want.Events) != 1 {
			t.Fatalf("%s: %s", same, problemsOf(want.Problems))
		}
		if len(got.Problems) > 0 {
			t.Errorf("%s\n%s", row, problemsOf(got.Problems))
			continue
		}
		wantSame(t, got.Events, want.Events)
	}
	for row, problem := range map[string]string{
		"count;wash;4;1.000;":     "bees come in whole numbers",
		"count;wash;1.000;3000;":  `"1.000" can be read two ways`,
		"count;wash;4;300/3f;":    `"300/3f" is not one amount`,
		"count;wash;4;300 or so;": `"or" is not a unit`,
		";;4;300;":                "the event is missing",
		"inspection;wash;4;300;":  "method says nothing in a row of the event inspection",
	} {
		got := read(t, head+"2026-06-01;alder;"+row+"\n")
		if len(got.Events) > 0 || !strings.Contains(problemsOf(got.Problems), problem) {
			t.Errorf("%s: want %s\n%s", row, problem, problemsOf(got.Problems))
		}
	}
}
