package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// A row of another century is left out of the record, and of its pairs too. In a
// file that is named for its pairs whatever is wrong is told.
//
// Naive, such a row is the third count of its pair, and the pair is forgotten; or
// it is passed over in the file as well, without a word.
func TestAPairAndARowOfAnotherCentury(t *testing.T) {
	dir := t.TempDir()
	pair := "date,yard,colony,event,method,mites,amount,frames,pair\n" +
		"2026-06-20,mill,hazel,count,wash,25,300,1,a\n2026-06-20,mill,hazel,count,roll,12,300,1,a\n"
	far := "1926-06-20,mill,hazel,count,roll,12,300,1,a\n"
	sound, slip := filepath.Join(dir, "sound.csv"), filepath.Join(dir, "slip.csv")
	writeFile(t, sound, pair)
	writeFile(t, slip, pair+far)

	var want, got struct{ Pairs []any }
	for log, into := range map[string]any{sound: &want, slip: &got} {
		if err := hear(into, "calibrate", "--log", log, "--today", "2026-06-25"); err != nil {
			t.Fatal(err)
		}
	}
	if len(want.Pairs) != 1 || len(got.Pairs) != 1 {
		t.Errorf("%d pairs, with the slip %d", len(want.Pairs), len(got.Pairs))
	}
	_, err := printed("calibrate", "--from", slip, "--today", "2026-06-25")
	if err == nil || !strings.Contains(err.Error(), "it has 3 counts") {
		t.Errorf("the file of pairs: %v", err)
	}
}
