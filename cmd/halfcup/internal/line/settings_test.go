package line

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"halfcup/cmd/internal/show"
)

func TestSettingsAreRead(t *testing.T) {
	s, err := ParseSettings("halfcup.toml", `
Level = 0.9            # of every interval
interval = "wilson"
[prior]
median_per_hundred = 2
[recovery]
roll = [12, 3]
`)
	if err != nil {
		t.Fatal(err)
	}
	if *s.Level != 0.9 || *s.Interval != "wilson" || *s.Prior.MedianPerHundred != 2 || s.Recovery.Roll[1] != 3 {
		t.Errorf("read %+v", s)
	}
	if s.Act != nil || s.Recovery.CO2 != nil || s.Prior.LogSD != nil {
		t.Errorf("keys that were not said are set: %+v", s)
	}
}

func TestSettingsProblems(t *testing.T) {
	for _, test := range []struct{ name, data, want string }{
		{"unknown key", "level = 0.9\nlevle = 0.9\n", `halfcup: error: halfcup.toml:2:1: there is no setting levle
fix: did you mean level? the settings here are level, interval, frame_cv, bees_cv, watch, act, thresholds, miss_cost, min_worth, loss_without, arrivals, without, any_size, co2_at_hand, most_frames, back_in, ascii, no_picture, hemisphere, yard, measure, frames, device, observer, date_order, costs, prior, season, plan, recovery
`},
		{"unknown key in a table", "[prior]\n  log_sdd = 1\n", `halfcup: error: halfcup.toml:2:3: there is no setting prior.log_sdd
fix: did you mean log_sd? the settings here are median_per_hundred, log_sd
`},
		{"unknown table, told once", "[priors]\nlog_sd = 1\n", `halfcup: error: halfcup.toml:1:2: there is no setting priors
fix: did you mean prior? the settings here are level, interval, frame_cv, bees_cv, watch, act, thresholds, miss_cost, min_worth, loss_without, arrivals, without, any_size, co2_at_hand, most_frames, back_in, ascii, no_picture, hemisphere, yard, measure, frames, device, observer, date_order, costs, prior, season, plan, recovery
`},
		{"two problems in one run", "level = 2\n[recovery]\nroll = [9]\n", `halfcup: error: halfcup.toml:1:9: level cannot be what stands there
fix: write a number from 0.5 to 0.9999
halfcup: error: halfcup.toml:3:8: recovery.roll cannot be what stands there
fix: write 2 numbers from 0.01 to 100000 in brackets, such as [9, 2]
`},
		{"wrong type", "[prior]\nlog_sd = \"wide\"\r\n", `halfcup: error: halfcup.toml:2:10: prior.log_sd cannot be what stands there
fix: write a number from 0.05 to 2
`},
		{"a value where a table belongs", "prior = 3\n", `halfcup: error: halfcup.toml:1:9: prior cannot be what stands there
fix: write a table of its own, such as [prior]
`},
		{"not a choice", `interval = "wald"`, `halfcup: error: halfcup.toml:1:12: interval cannot be what stands there
fix: write one of "garwood", "clopper-pearson", "wilson", "jeffreys", "mid-p"
`},
		{"NaN", "act = nan", `halfcup: error: halfcup.toml:1:7: act cannot be what stands there
fix: write a number from 0.01 to 100
`},
		{"in a table on one line", "\nprior = { log_sd = 1, median_per_hundred = 1000 }\n", `halfcup: error: halfcup.toml:2:44: prior.median_per_hundred cannot be what stands there
fix: write a number from 0.01 to 100
`},
		{"a key with its table before it", "level = 0.9\nrecovery.roll = [\n  9, 0.001,\n]\n", `halfcup: error: halfcup.toml:2:17: recovery.roll cannot be what stands there
fix: write 2 numbers from 0.01 to 100000 in brackets, such as [9, 2]
`},
		{"a key twice", "level = 0.9\nact = 2\nlevel = 0.8\n", `halfcup: error: halfcup.toml:3:1: level stands here for the second time
fix: keep this or the one of line 1
`},
		{"a table twice", "[prior]\nlog_sd = 1\n[prior]\nmedian_per_hundred = 2\n", `halfcup: error: halfcup.toml:3:2: prior stands here for the second time
fix: keep this or the one of line 1
`},
		{"not TOML", "level 0.9\n", `halfcup: error: halfcup.toml:1:7: this cannot be read as settings
fix: write it as TOML: a key, =, and a value; texts stand in double quotes
`},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := ParseSettings("halfcup.toml", test.data)
			if err == nil {
				t.Fatal("was taken")
			}
			var b bytes.Buffer
			if code := printError(&b, err); code != ExitBadData {
				t.Errorf("exit code %d, want %d", code, ExitBadData)
			}
			if b.String() != test.want {
				t.Errorf("printed:\n%swant:\n%s", &b, test.want)
			}
		})
	}
}

// What stands in the file is not shown: it may be another file than was meant,
// and hold a secret.
func TestSettingsKeepSecrets(t *testing.T) {
	for _, data := range []string{"level = \"s3cret\"\n", "s3cret\n", "watch = [\"s3cret\"]\n", "# s3cret\nlevel 's3cret'\n", "prior = \"s3cret\"\n"} {
		_, err := ParseSettings("halfcup.toml", data)
		var b bytes.Buffer
		if code := printError(&b, err); code != ExitBadData || strings.Contains(b.String(), "s3cret") {
			t.Errorf("%q: exit %d\n%s", data, code, &b)
		}
	}
}

// Thousands of keys that nobody knows are told in a moment, and a file without
// end is not read to its end.
func TestSettingsBounds(t *testing.T) {
	var b strings.Builder
	for i := range 20_000 {
		fmt.Fprintf(&b, "key%d = %d\n", i, i)
	}
	start := time.Now()
	if _, err := ParseSettings("halfcup.toml", b.String()); err == nil || time.Since(start) > 10*time.Second {
		t.Errorf("%v after %v", err != nil, time.Since(start))
	}
	name := filepath.Join(t.TempDir(), "halfcup.toml")
	if err := os.WriteFile(name, make([]byte, maxSettings+1), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, _, err := readSettings(name, true); err == nil || !strings.Contains(err.Error(), "larger than 1 megabyte") {
		t.Error(err)
	}
	if runtime.GOOS == "windows" {
		return
	}
	if _, _, err := readSettings("/dev/zero", true); err == nil || !strings.Contains(err.Error(), "a pipe or a device") {
		t.Error(err)
	}
}

func FuzzSettings(f *testing.F) {
	f.Add("level = 0.9\n[prior]\nlog_sd = 1\n")
	f.Add("recovery = {roll = [1, \"x\"]}\n'lev el'.x = 3")
	f.Fuzz(func(t *testing.T, data string) {
		if _, err := ParseSettings("halfcup.toml", data); err != nil {
			printError(&bytes.Buffer{}, err)
		}
	})
}

// Of several values that are of the wrong kind the first in the file is told.
func TestFirstMisfitIsTold(t *testing.T) {
	_, err := ParseSettings("x.toml", "\nact = \"two\"\nwithout = \"co2\"\nlevel = true\n[prior]\nlog_sd = \"x\"\n")
	var p *show.Problem
	if !errors.As(err, &p) || p.Line != 2 || !strings.HasPrefix(p.What, "act cannot be") {
		t.Fatalf("%v", err)
	}
	for text, line := range map[string]int{"[recovery]\nroll = [1, 2, 3]\n": 2, "[recovery]\nroll = [1, \"x\"]\n": 2, "without = [1]\n": 1, "any_size = 1\n": 1, "prior = 3\n": 1} {
		_, err := ParseSettings("x.toml", text)
		var p *show.Problem
		if !errors.As(err, &p) || p.Line != line || !strings.HasSuffix(p.What, "cannot be what stands there") {
			t.Errorf("%s: %v", text, err)
		}
	}
}
