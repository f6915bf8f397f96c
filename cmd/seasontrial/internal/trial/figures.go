package trial

import (
	_ "embed"
	"maps"

	"halfcup/internal/table"
	"halfcup/sampling"
)

//go:embed figures.csv
var figuresCSV string

//go:embed settings.csv
var settingsCSV string

// figures are the figures of the trial by name.
type figures map[string]float64

// of is one figure. A name that is not there is a mistake of ours that every
// test would show.
func (f figures) of(name string) float64 {
	v, ok := f[name]
	if !ok {
		panic("trial: no figure " + name)
	}
	return v
}

// setting is a world to play in: the figures, some of them changed.
type setting struct {
	name, what string
	usual      bool // played when no setting is named
	figures
}

var (
	figureTable = table.Read(figuresCSV)
	settings    = readSettings()
)

func readSettings() []setting {
	usual := figures{}
	for _, r := range figureTable {
		usual[r["name"]] = r.Number("value")
	}
	var out []setting
	for _, r := range table.Read(settingsCSV) {
		if len(out) == 0 || out[len(out)-1].name != r["setting"] {
			out = append(out, setting{r["setting"], r["what"], r["usual"] == "yes", maps.Clone(usual)})
		}
		if name := r["figure"]; name != "" {
			usual.of(name)
			out[len(out)-1].figures[name] = r.Number("value")
		}
	}
	return out
}

// Sources lists every figure of the trial with where it comes from, and what
// the settings change.
func Sources() []sampling.Source {
	var out []sampling.Source
	for _, r := range figureTable {
		out = append(out, sampling.Source{Name: "season_trial_" + r["name"], Value: r["value"], Unit: r["unit"], What: "in the season trial: " + r["what"], Source: r["source"], Kind: r["kind"]})
	}
	for _, r := range table.Read(settingsCSV) {
		if r["figure"] != "" {
			out = append(out, sampling.Source{Name: "season_trial_" + r["setting"] + "_" + r["figure"], Value: r["value"], What: "what the setting " + r["setting"] + " changes in the season trial", Source: r["source"], Kind: r["kind"]})
		}
	}
	return out
}
