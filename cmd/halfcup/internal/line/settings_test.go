package line

import (
	"bytes"
	"testing"
)

func TestSettingsAreRead(t *testing.T) {
	s, err := ParseSettings("halfcup.toml", `
level = 0.9            # of every interval
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
  levle = 0.9
  ^^^^^
fix: did you mean level? the settings here are level, interval, frame_cv, bees_cv, watch, act, thresholds, miss_cost, min_worth, costs, prior, hemisphere, season, recovery
`},
		{"unknown key in a table", "[prior]\n  log_sdd = 1\n", `halfcup: error: halfcup.toml:2:3: there is no setting prior.log_sdd
    log_sdd = 1
    ^^^^^^^
fix: did you mean log_sd? the settings here are median_per_hundred, log_sd
`},
		{"unknown table, told once", "[priors]\nlog_sd = 1\n", `halfcup: error: halfcup.toml:1:2: there is no setting priors
  [priors]
   ^^^^^^
fix: did you mean prior? the settings here are level, interval, frame_cv, bees_cv, watch, act, thresholds, miss_cost, min_worth, costs, prior, hemisphere, season, recovery
`},
		{"two problems in one run", "level = 2\n[recovery]\nroll = [9]\n", `halfcup: error: halfcup.toml:1:9: level cannot be 2
  level = 2
          ^
fix: write a number from 0.5 to 0.9999
halfcup: error: halfcup.toml:3:8: recovery.roll cannot be [9]
  roll = [9]
         ^^^
fix: write 2 numbers from 0.01 to 100000 in brackets, such as [9, 2]
`},
		{"wrong type", "[prior]\nlog_sd = \"wide\"\r\n", `halfcup: error: halfcup.toml:2:10: prior.log_sd cannot be "wide"
  log_sd = "wide"
           ^^^^^^
fix: write a number from 0.05 to 2
`},
		{"a value where a table belongs", "prior = 3\n", `halfcup: error: halfcup.toml:1:9: prior cannot be 3
  prior = 3
          ^
fix: write a table of its own, such as [prior]
`},
		{"not a choice", `interval = "wald"`, `halfcup: error: halfcup.toml:1:12: interval cannot be "wald"
  interval = "wald"
             ^^^^^^
fix: write one of "garwood", "clopper-pearson", "wilson", "jeffreys", "mid-p"
`},
		{"NaN", "act = nan", `halfcup: error: halfcup.toml:1:7: act cannot be nan
  act = nan
        ^^^
fix: write a number from 0.01 to 100
`},
		{"not TOML", "level 0.9\n", `halfcup: error: halfcup.toml:1:7: expected '.' or '=', but got '0' instead
  level 0.9
        ^
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

func FuzzSettings(f *testing.F) {
	f.Add("level = 0.9\n[prior]\nlog_sd = 1\n")
	f.Add("recovery = {roll = [1, \"x\"]}\n'lev el'.x = 3")
	f.Fuzz(func(t *testing.T, data string) {
		if _, err := ParseSettings("halfcup.toml", data); err != nil {
			printError(&bytes.Buffer{}, err)
		}
	})
}
