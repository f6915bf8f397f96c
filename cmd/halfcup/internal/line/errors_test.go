package line

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"halfcup/cmd/internal/show"
)

func TestLongListOfProblemsIsCut(t *testing.T) {
	var all []error
	for range 25 {
		all = append(all, &show.Problem{File: "f", What: "x"})
	}
	var b bytes.Buffer
	printError(&b, errors.Join(all...))
	if got := strings.Count(b.String(), "\n"); got != 21 || !strings.HasSuffix(b.String(), "halfcup: error: 5 more like these\n") {
		t.Errorf("%d lines:\n%s", got, &b)
	}
}
