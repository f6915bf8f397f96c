package answer

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfcup/cmd/internal/drawn"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/internal/long"
	"halfcup/sampling"
)

func TestMain(m *testing.M) { long.Main(m, 4, 15) }

// program builds halfcup, to be asked the same as the page.
func program(t *testing.T) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "halfcup.exe")
	if out, err := exec.Command("go", "build", "-o", name, "halfcup/cmd/halfcup").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return name
}

// The page and the program say the same of every colony, to the last word of a
// judgement, whatever the record and the settings that both can take: the
// program as it is run, the page after rows and settings came to it one after
// the other and it had answered between.
//
// Naive, the page takes a yard as it last saw it, or reads counts by the figures
// that hold before any pair taught others.
func TestPageAnswersAsTheProgram(t *testing.T) {
	halfcup := program(t)
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		record, own := drawn.Of(r), drawn.SettingsOf(r).OnlyShared()
		log, settings := filepath.Join(dir, fmt.Sprintf("%d.csv", n)), filepath.Join(dir, fmt.Sprintf("%d.toml", n))
		for name, text := range map[string]string{log: record.CSV(), settings: own.TOML()} {
			if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
				r.Fatal(err)
			}
			defer os.Remove(name)
		}
		rec, err := record.Read()
		if err != nil {
			r.Fatal(err)
		}
		b := &Book{}
		told(r, b, record, own)
		yards := map[string]bool{}
		for _, k := range rec.Colonies() {
			if yards[k.Yard] {
				continue
			}
			yards[k.Yard] = true
			var stdout, stderr bytes.Buffer
			c := exec.Command(halfcup, "yard", "--yard", k.Yard, "--format", "json", "--log", log, "--settings", settings, "--today", record.Today.String())
			c.Stdout, c.Stderr = &stdout, &stderr
			err := c.Run()
			var exit *exec.ExitError
			if stdout.Len() == 0 && errors.As(err, &exit) {
				said := stderr.String()
				if !strings.Contains(said, "no colony of this yard was alive") && !strings.Contains(said, "the record has no such yard") && !strings.Contains(said, "there is no colony in this record") {
					r.Fatalf("%s\n%s on %s\n%s%s", said, k.Yard, record.Today, own.TOML(), record.CSV())
				}
				stdout.WriteString("{}")
			}
			if err := agree(r, b, k.Yard, record.Today, stdout.Bytes()); err != nil {
				r.Fatalf("%s on %s: %v\n%s%s", k.Yard, record.Today, err, own.TOML(), record.CSV())
			}
		}
	})
}

// told puts a record and settings before a book as a device does: some rows when
// it opens, the others as they are kept.
func told(r *rapid.T, b *Book, record drawn.Record, own drawn.Settings) {
	ask := func(q map[string]any) {
		question, err := json.Marshal(q)
		if err != nil {
			r.Fatal(err)
		}
		b.Ask(question)
	}
	settings := map[string]any{
		"hemisphere": own.Hemisphere, "year": own.Year, "most_brood": own.MostBrood,
		"lines": own.Lines, "act": own.Act, "without": own.Without, "co2": own.CO2,
	}
	split := rapid.IntRange(0, len(record.Rows)).Draw(r, "kept before")
	ask(map[string]any{"do": "open", "rows": record.Rows[:split]})
	before := record.Today - sampling.Date(rapid.IntRange(0, 30).Draw(r, "days before"))
	ask(map[string]any{"do": "yard", "yard": "mill", "day": before.String()})
	steps := []map[string]any{{"do": "set", "settings": settings}, {"do": "yard", "yard": "mill", "day": record.Today.String()}, {"do": "keep", "rows": record.Rows[split:]}}
	if rapid.Bool().Draw(r, "settings last") {
		slices.Reverse(steps)
	}
	for _, q := range steps {
		ask(q)
	}
}

// agree holds what the page says of a yard to what the program says of it.
func agree(r *rapid.T, b *Book, yard string, day sampling.Date, byProgram []byte) error {
	type duty struct{ Colony, Date string }
	var want struct {
		Colonies []struct {
			Colony     string
			Level      json.RawMessage `json:"estimate"`
			ChanceOver json.RawMessage `json:"chance_over"`
			Verdict    json.RawMessage `json:"verdict"`
			Regret     json.RawMessage `json:"regret"`
			Threshold  json.RawMessage `json:"threshold"`
			Pooled     bool            `json:"pooled"`
		}
		Late, Due []duty
	}
	if err := json.Unmarshal(byProgram, &want); err != nil {
		return err
	}
	q := map[string]any{"yard": yard, "day": day.String(), "do": "yard"}
	type pageDuty struct {
		Hive, Day string
		Late      int
	}
	page := asked[struct {
		Hives       []struct{ Name, Do string }
		Late, Ahead []pageDuty
	}](r, b, q)
	var names, living []string
	for _, k := range want.Colonies {
		names = append(names, fieldlog.SameName(k.Colony))
	}
	for _, h := range page.Hives {
		if h.Do != "new" {
			living = append(living, fieldlog.SameName(h.Name))
		}
	}
	slices.Sort(names)
	slices.Sort(living)
	if !slices.Equal(names, living) {
		return fmt.Errorf("the page has %v, and the program %v", living, names)
	}
	var duties, due []string
	for _, d := range slices.Concat(page.Late, page.Ahead) {
		if on, err := sampling.ParseDate(d.Day); err != nil || on <= day+7 {
			duties = append(duties, fmt.Sprintf("%s %s %d", fieldlog.SameName(d.Hive), d.Day, d.Late))
		}
	}
	for _, d := range slices.Concat(want.Late, want.Due) {
		on, err := sampling.ParseDate(d.Date)
		if err != nil {
			return err
		}
		due = append(due, fmt.Sprintf("%s %s %d", fieldlog.SameName(d.Colony), on, max(0, int(day-on))))
	}
	slices.Sort(duties)
	slices.Sort(due)
	if !slices.Equal(duties, due) {
		return fmt.Errorf("due within a week by the page %v, by the program %v", duties, due)
	}
	for _, k := range want.Colonies {
		q["do"], q["hive"] = "hive", k.Colony
		got := asked[struct {
			First    string
			HasLevel bool `json:"has_level"`
			Due      string
			Overdue  int
			Estimate json.RawMessage
			Figures  map[string]json.RawMessage
		}](r, b, q)
		pooled, _ := json.Marshal(k.Pooled)
		for name, mine := range map[string]json.RawMessage{"chance_over": k.ChanceOver, "verdict": k.Verdict, "regret": k.Regret, "threshold": k.Threshold, "pooled": pooled} {
			if diff := drawn.Apart(name, decoded(got.Figures[name]), decoded(mine)); diff != "" {
				return fmt.Errorf("%s, page against program: %s", k.Colony, diff)
			}
		}
		verdict := decoded(k.Verdict).(map[string]any)
		if got.First != verdict["sentence"] || got.Due != verdict["due"] || float64(got.Overdue) != verdict["overdue_days"] {
			return fmt.Errorf("%s: the page says %q, due %s (%d), and the program %v", k.Colony, got.First, got.Due, got.Overdue, verdict)
		}
		level, told := decoded(k.Level).(map[string]any)
		if told != got.HasLevel {
			return fmt.Errorf("%s: a level is told by the page: %v, by the program: %v", k.Colony, got.HasLevel, told)
		}
		mine := decoded(got.Estimate).(map[string]any)
		for _, name := range []string{"median", "low", "high"} {
			if told && !drawn.Near(mine[name].(float64), level[name+"_per_hundred"].(float64)) {
				return fmt.Errorf("%s: %s is %v by the page and %v by the program", k.Colony, name, mine[name], level)
			}
		}
	}
	return nil
}

func decoded(data []byte) any {
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		return err.Error()
	}
	return v
}
