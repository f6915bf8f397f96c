package ask

import (
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/sampling"
)

// assumptionsOf reads flags as a command would.
func assumptionsOf(t *testing.T, s line.Settings, args ...string) (Basis, error) {
	t.Helper()
	sh := &line.Shell{Settings: s}
	var b Basis
	app := &cli.App{Flags: append(AssumptionFlags(), SeasonFlags()...), DisableSliceFlagSeparator: true, Action: func(c *cli.Context) (err error) {
		b, err = ReadAssumptions(sh, c)
		return err
	}}
	err := app.Run(append([]string{"test"}, args...))
	return b, err
}

// writePairs makes a record of pairs in the working folder.
func writePairs(t *testing.T, content string) {
	t.Helper()
	if err := os.WriteFile("pairs.csv", []byte(content), 0o666); err != nil {
		t.Fatal(err)
	}
}

func parsed(t *testing.T, s string) sampling.Count {
	t.Helper()
	c, err := sampling.ParseCount(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestAssumptionsFlagBeatsSetting(t *testing.T) {
	s, err := line.ParseSettings("halfcup.toml", "frame_cv = 0.3\nbees_cv = 0.1\n[recovery]\nroll = [20, 5]\nco2 = [5, 5]\n[prior]\nlog_sd = 1\n")
	if err != nil {
		t.Fatal(err)
	}
	b, err := assumptionsOf(t, s, "--recovery", "roll=30,3", "--frame-cv", "0.2", "--prior", "2,0.8")
	if err != nil {
		t.Fatal(err)
	}
	want := sampling.DefaultAssumptions()
	want.Recovery = map[sampling.Method]sampling.Beta{sampling.Roll: {Alpha: 30, Beta: 3}, sampling.CO2: {Alpha: 5, Beta: 5}}
	want.FrameCV, want.ScoopCV, want.WeighedCV = 0.2, 0.1, 0.1
	want.Prior = sampling.Prior{MedianPerHundred: 2, LogSD: 0.8}
	if !reflect.DeepEqual(b.Assumptions, want) {
		t.Errorf("got  %+v\nwant %+v", b.Assumptions, want)
	}
	var said []string
	for _, f := range b.Sources(parsed(t, "roll:7/0.5cup")) {
		said = append(said, f.Name+"="+f.Value+" "+strings.SplitN(f.Source, " ", 3)[0])
	}
	if got, want := strings.Join(said, "; "), "prior_median=2 --prior; prior_log_sd=0.8 --prior; recovery_roll=30,3 --recovery; frame_cv=0.2 --frame-cv; half_cup_bees=300 the; scoop_cv=0.1 your"; got != want {
		t.Errorf("sources\n got %s\nwant %s", got, want)
	}
}

func TestRecoveryOfExactlyOne(t *testing.T) {
	b, err := assumptionsOf(t, line.Settings{}, "--recovery", "roll=1")
	if _, has := b.Recovery[sampling.Roll]; err != nil || has {
		t.Errorf("%+v %v", b.Recovery, err)
	}
}

func TestFiguresOfACount(t *testing.T) {
	board := parsed(t, "board:24/3d")
	board.Cells = sampling.Cells{Counted: 33, Of: 99}
	knockdown := parsed(t, "knockdown:310/5d")
	knockdown.Treatment = sampling.TreatmentName{Active: "oxalic acid", Application: "vapour"}
	knockdown.Hive.Broodless = true
	fall := 2.0
	knockdown.FallBefore = &fall
	for _, tc := range []struct {
		count sampling.Count
		want  string
	}{
		{parsed(t, "wash:5/300"), "prior_median prior_log_sd frame_cv"},
		{board, "prior_median prior_log_sd board_brood_bees board_day_cv board_cells_cv bees_unknown_log_sd board_brood_median board_brood_log_sd board_pair_1 board_pair_2 board_pair_3 board_pair_4"},
		{knockdown, "prior_median prior_log_sd board_broodless_bees bees_unknown_log_sd knockdown_reach kill_oxalic-vapour"},
	} {
		b, err := assumptionsOf(t, line.Settings{})
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, s := range b.Sources(tc.count) {
			names = append(names, s.Name)
			if s.Source == "" || s.Kind == "" || s.Value == "" {
				t.Errorf("%s: a figure without value or source: %+v", tc.count, s)
			}
		}
		if got := strings.Join(names, " "); got != tc.want {
			t.Errorf("%s\n got %s\nwant %s", tc.count, got, tc.want)
		}
	}
}

func TestAssumptionFlagsRefuse(t *testing.T) {
	for _, tc := range []struct{ flag, value, want string }{
		{"prior", "1", "two numbers are needed"},
		{"prior", "1,9", "9 is out of range"},
		{"recovery", "roll", "needs a method and two numbers"},
		{"recovery", "rool=9,2", "did you mean roll"},
		{"recovery", "wash=9,2", "no recovery of its own"},
		{"recovery", "board=9,2", "no recovery of its own"},
		{"recovery", "roll=9,0", "0 is out of range"},
		{"frame-cv", "x", "not a number"},
		{"bees-cv", "3", "out of range"},
	} {
		_, err := assumptionsOf(t, line.Settings{}, "--"+tc.flag, tc.value)
		if err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("--%s %s: %v, want %s", tc.flag, tc.value, err, tc.want)
		}
	}
}

// A pair that cannot be used is left out and told, whatever is wrong with it.
func TestPairsLeftOut(t *testing.T) {
	t.Chdir(t.TempDir())
	writePairs(t, "date,colony,event,method,mites,amount,pair\n"+
		"2026-06-28,alder,count,roll,5,300,a\n2026-06-28,alder,count,wash,1,300,a\n2026-06-28,alder,count,wash,2,300,a\n"+
		"2026-06-28,alder,count,roll,5,300,b\n2026-06-28,elm,count,wash,1,300,b\n"+
		"2026-06-28,alder,count,roll,5,300,c\n2026-06-28,alder,count,roll,5,301,c\n"+
		"2026-06-28,alder,count,board,50,3d,d\n2026-06-28,alder,count,wash,5,40g,d\n"+
		"2026-06-28,alder,count,roll,5,3oo,e\n"+
		"2026-06-28,alder,count,roll,20,300,f\n2026-06-28,alder,count,wash,2,300,f\n")
	sh := &line.Shell{Today: sampling.Day(2026, 8, 1), LogFile: "pairs.csv", LogNamed: true}
	var b Basis
	app := &cli.App{Flags: append(AssumptionFlags(), SeasonFlags()...), Action: func(c *cli.Context) (err error) {
		b, err = ReadAssumptions(sh, c)
		return err
	}}
	if err := app.Run([]string{"test"}); err != nil {
		t.Fatal(err)
	}
	if got := b.Own["recovery_roll"]; got.Value != "29,4" || got.Source != "1 pair of yours in pairs.csv" {
		t.Errorf("%+v", got)
	}
	if len(b.LeftOut) != 5 {
		t.Errorf("left out: %q", b.LeftOut)
	}
	for i, want := range []string{"1 row of pairs.csv", "pairs.csv:4: the pair a is left out: it has 3 counts", "pairs.csv:6: the pair b", "pairs.csv:8: the pair c", "pairs.csv:10: the pair d is left out: count wash:5/40g"} {
		if i < len(b.LeftOut) && !strings.Contains(b.LeftOut[i], want) {
			t.Errorf("%q, want %s", b.LeftOut[i], want)
		}
	}
}

// The pairs of a record count for every command, add to a setting, and leave
// alone what was said on the line.
func TestAssumptionsFromPairs(t *testing.T) {
	t.Chdir(t.TempDir())
	writePairs(t, "date,yard,colony,event,method,mites,amount,adult_bees,brood,pair\n"+
		"2026-06-28,mill,alder,count,wash,1,300,,,Roll 1\n"+ // the order of rows says nothing
		"2026-06-28,mill,alder,count,roll,5,300,,,roll 1\n"+
		"2026-07-19,mill,larch,count,board,84,3d,17f,,b\n"+
		"2026-07-19,mill,larch,count,wash,9,306,,,b\n"+
		"2026-07-20,mill,elm,count,roll,4,300,,,still to be washed\n"+
		"2026-12-10,mill,elm,count,board,3,7d,,,winter\n"+
		"2026-12-12,mill,elm,count,wash,6,300,,,winter\n")
	sh := &line.Shell{Today: sampling.Day(2026, 8, 1), LogFile: "pairs.csv", LogNamed: true}
	read := func(args ...string) Basis {
		t.Helper()
		var b Basis
		app := &cli.App{Flags: append(AssumptionFlags(), SeasonFlags()...), DisableSliceFlagSeparator: true, Action: func(c *cli.Context) (err error) {
			b, err = ReadAssumptions(sh, c)
			return err
		}}
		if err := app.Run(append([]string{"test"}, args...)); err != nil {
			t.Fatal(err)
		}
		return b
	}
	d := sampling.DefaultAssumptions()
	b := read()
	if b.Recovery[sampling.Roll] != (sampling.Beta{Alpha: 14, Beta: 3}) || b.BoardBrood == d.BoardBrood || b.BoardBroodless != d.BoardBroodless {
		t.Errorf("%+v", b.Assumptions)
	}
	if got := b.Own["recovery_roll"]; got.Value != "14,3" || got.Source != "1 pair of yours in pairs.csv" {
		t.Errorf("%+v", got)
	}
	if fixed := read("--recovery", "roll=9,2"); fixed.Recovery[sampling.Roll] != d.Recovery[sampling.Roll] || fixed.Own["recovery_roll"].Source != "--recovery" {
		t.Errorf("a flag was calibrated away: %+v", fixed.Recovery)
	}
	sh.Settings.Recovery.Roll = []float64{20, 5}
	if set := read(); set.Recovery[sampling.Roll] != (sampling.Beta{Alpha: 25, Beta: 6}) {
		t.Errorf("a setting was not added to: %+v", set.Recovery)
	}
	// Later in the year the winter pair counts, and for boards over no brood:
	// the row does not say so, but the season does.
	sh.Today = sampling.Day(2026, 12, 31)
	if late := read(); late.BoardBroodless == d.BoardBroodless || late.BoardBrood != b.BoardBrood {
		t.Errorf("%+v", late.Assumptions)
	}
}
