package main

import (
	"os"
	"regexp"
	"testing"
)

// Every word that the page says is in its list of words: one that is not would be
// shown by its key.
func TestEveryWordIsThere(t *testing.T) {
	script, err := os.ReadFile("page/page.js")
	if err != nil {
		t.Fatal(err)
	}
	list, err := os.ReadFile("page/words.js")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)(?:^  |, |\{ )"?([a-zA-Z_][a-zA-Z0-9_-]*)"?: "`).FindAllStringSubmatch(string(list), -1) {
		there[m[1]] = true
	}
	if len(there) < 100 {
		t.Fatalf("only %d words are found in the list", len(there))
	}
	said := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?:say|list)\(([^()]*)`).FindAllStringSubmatch(string(script), -1) {
		for _, key := range regexp.MustCompile(`"([a-z][a-zA-Z0-9_]*[a-zA-Z0-9])"`).FindAllStringSubmatch(m[1], -1) {
			said[key[1]] = true
		}
	}
	for _, m := range regexp.MustCompile(`(?:pick|write)\("([a-z0-9]+)", ?[\[{s]|write\("([a-z]+)"\)`).FindAllStringSubmatch(string(script), -1) {
		said["set_"+m[1]+m[2]] = true
	}
	for key := range said {
		if !there[key] {
			t.Errorf("the page says %q, which is in no list of words", key)
		}
	}
}
