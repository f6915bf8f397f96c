package main

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/decide"
	"halfcup/sampling"
)

func TestSeasonFromSettingsAndFlag(t *testing.T) {
	t.Chdir(t.TempDir())
	var heard decide.Season
	with(t, "weigh", ask.SeasonFlags(), func(sh *line.Shell, c *cli.Context) (err error) {
		heard, err = ask.ReadSeason(sh, c)
		return err
	})
	midsummer := sampling.Day(2026, 6, 21)
	check := func(want decide.Phase, args ...string) {
		t.Helper()
		var stderr bytes.Buffer
		if code := run(append([]string{"weigh"}, args...), nil, io.Discard, &stderr); code != line.ExitDone || heard.Phase(midsummer) != want {
			t.Errorf("%v: exit %d, %s, want %s\n%s", args, code, heard.Phase(midsummer), want, &stderr)
		}
	}
	check(decide.Peak)
	check(decide.Broodless, "--hemisphere", "south")
	writeFile(t, line.DefaultSettings, "hemisphere = \"south\"\n[season]\ndecline = \"05-20\"\nbroodless = \"07-01\"\n")
	check(decide.Decline)
	check(decide.Decline, "--hemisphere", "south")

	writeFile(t, line.DefaultSettings, "[season]\npeak = \"06-31\"\n")
	var stderr bytes.Buffer
	if code := run([]string{"weigh"}, nil, io.Discard, &stderr); code == line.ExitDone || !strings.Contains(stderr.String(), "season.peak cannot be") {
		t.Errorf("a day that is not: exit %d\n%s", code, &stderr)
	}
}
