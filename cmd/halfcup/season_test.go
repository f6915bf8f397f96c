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
	var heard decide.Year
	with(t, "weigh", ask.SeasonFlags(), func(sh *line.Shell, c *cli.Context) (err error) {
		heard, err = ask.ReadYear(sh, c)
		return err
	})
	midsummer := sampling.Day(2026, 6, 21)
	check := func(want decide.Season, args ...string) {
		t.Helper()
		var stderr bytes.Buffer
		if code := run(append([]string{"weigh"}, args...), nil, io.Discard, &stderr); code != line.ExitDone || heard.Season(midsummer) != want {
			t.Errorf("%v: exit %d, %s, want %s\n%s", args, code, heard.Season(midsummer), want, &stderr)
		}
	}
	check(decide.Summer)
	check(decide.Winter, "--hemisphere", "south")
	writeFile(t, line.DefaultSettings, "hemisphere = \"south\"\n[season]\nautumn = \"05-20\"\nwinter = \"07-01\"\n")
	check(decide.Autumn)
	check(decide.Autumn, "--hemisphere", "south")

	writeFile(t, line.DefaultSettings, "[season]\nsummer = \"06-31\"\n")
	var stderr bytes.Buffer
	if code := run([]string{"weigh"}, nil, io.Discard, &stderr); code == line.ExitDone || !strings.Contains(stderr.String(), "season.summer cannot be") {
		t.Errorf("a day that is not: exit %d\n%s", code, &stderr)
	}
}
