package main

import (
	"strings"
	"testing"

	"halfcup/cmd/internal/licences"
)

// The terms of what is linked into the page go with it, and end nothing early.
func TestTermsGoWithThePage(t *testing.T) {
	page, err := assemble(engine{}, false)
	if err != nil {
		t.Fatal(err)
	}
	_, terms, found := strings.Cut(string(page), "</html>\n<!--")
	if !found || strings.Count(terms, "-->") != 1 || !strings.HasSuffix(terms, "-->\n") {
		t.Fatalf("the page ends with %.200q", terms)
	}
	if !strings.Contains(terms, licences.Modules()[0].Path+": "+licences.Modules()[0].Licence) || len(terms) < len(licences.Text()) {
		t.Error("the terms are not whole")
	}
}
