package main

import (
	"bytes"
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"halfcup/cmd/halfcup/internal/line"
)

// What --explain says takes the place of the text: it is where the figures and
// their laws are named, in a page that can still be read at one go, and it
// tells the chance in natural frequencies too.
func TestExplainIsOnePage(t *testing.T) {
	for _, typed := range []string{
		"choose roll:7/300", "choose wash:0/300", "choose", "enough roll:7/300", "enough wash:0/300 wash:4/100",
		"wash:0/300", "roll:7/300", "wash:60/300", "board:36/3d", "roll:7/300 board:36/3d wash:4/250/3f",
		"wash:5/300 --act 0.5", "knockdown:310/5d --treatment oxalic-vapour",
	} {
		var stdout, stderr bytes.Buffer
		args := strings.Split("estimate "+typed, " ")
		if first := args[1]; first == "choose" || first == "enough" {
			args = args[1:]
		}
		args = append(args, "--explain", "--format", "json", "--today", "2026-07-01")
		if code := run(args, nil, &stdout, &stderr); code != line.ExitDone {
			t.Fatalf("%s: exit %d: %s", typed, code, &stderr)
		}
		var got struct{ Explain string }
		if err := json.Unmarshal(stdout.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		if n := len(strings.Fields(got.Explain)); n == 0 || n > 220 {
			t.Errorf("%s: %d words, want at most 220", typed, n)
		}
		if !regexp.MustCompile(`Of 1000? colonies`).MatchString(got.Explain) {
			t.Errorf("%s: no natural frequency: %s", typed, got.Explain)
		}
	}
}
