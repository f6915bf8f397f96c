package decide

import (
	"fmt"
	"slices"
	"strconv"

	"halfcup/sampling"
)

// Sources lists every default figure of this package, and the field trials
// that are shown beside the model.
func Sources() []sampling.Source {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	var out []sampling.Source
	for _, p := range slices.Concat(parameterTable, efficacyTable, yardFigures) {
		out = append(out, sampling.Source{Name: p.Name, Value: number(p.Value), Unit: p.Unit, What: p.Meaning, Source: p.Source, Kind: p.Kind})
	}
	for _, p := range phaseTable {
		out = append(out, sampling.Source{
			Name: "season_" + string(p.Phase), Value: p.Start, Unit: "in the north",
			What:   fmt.Sprintf("when the phase begins; adult bees change by %s a day, from about %s; mites come in from other colonies: %v", number(p.BeeGrowth), number(p.AdultBees), map[bool]string{true: "yes", false: "no"}[p.Flying]),
			Source: p.Source, Kind: p.Kind,
		})
	}
	for i, t := range trialTable {
		out = append(out, sampling.Source{Name: fmt.Sprintf("trial_%d", i+1), Value: t.Treatment, What: "field trial: " + t.Outcome, Source: t.Source, Kind: t.Kind})
	}
	return out
}
