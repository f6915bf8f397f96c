package sampling_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"halfcup/sampling"
)

func TestTreatments(t *testing.T) {
	groups := map[string]string{}
	for _, tr := range sampling.Treatments() {
		if got, err := sampling.FindTreatment(tr.Slug); err != nil || got != tr {
			t.Errorf("FindTreatment(%q) = %v, %v", tr.Slug, got, err)
		}
		if got, err := sampling.FindTreatment(strings.ToUpper(tr.TreatmentName.String())); err != nil || got != tr {
			t.Errorf("FindTreatment(%q) = %v, %v", tr.TreatmentName, got, err)
		}
		if got, err := sampling.FindTreatment(tr.Called); err != nil || got != tr {
			t.Errorf("FindTreatment(%q) = %v, %v", tr.Called, got, err)
		}
		if got, err := tr.Find(); err != nil || got != tr {
			t.Errorf("%v.Find() = %v, %v", tr.TreatmentName, got, err)
		}
		for _, b := range []sampling.Beta{tr.KillNoBrood, tr.KillWithBrood} {
			if err := b.Check(tr.Slug); err != nil {
				t.Error(err)
			}
		}
		if tr.KillWithBrood.Mean() > tr.KillNoBrood.Mean() {
			t.Errorf("%s: kills more with brood than without", tr.Slug)
		}
		if tr.WholeColony && tr.KillWithBrood != tr.KillNoBrood {
			t.Errorf("%s: a kill of the whole colony already holds the brood", tr.Slug)
		}
		if tr.WholeColony && tr.Days < 14 {
			t.Errorf("%s: %d days do not outlast the capped time, so the kill cannot be of the whole colony", tr.Slug, tr.Days)
		}
		if tr.Source == "" || tr.Kind == "" || tr.Days < 1 {
			t.Errorf("%s: incomplete: %+v", tr.Slug, tr)
		}
		groups[tr.Active] = tr.ModeOfAction
		for _, p := range []float64{tr.ExpectBrood, tr.ExpectNoBrood, tr.TargetPercent} {
			if !(p > 0 && p < 100) {
				t.Errorf("%s: a figure of %v percent: %+v", tr.Slug, p, tr.TreatmentUse)
			}
		}
		if tr.ExpectBrood > tr.ExpectNoBrood || tr.Rounds < 1 || (tr.Rounds > 1) != (tr.EveryDays > 0) || tr.Warmth.Known() && !(tr.Warmth.Cool < tr.Warmth.Warm) {
			t.Errorf("%s: %+v", tr.Slug, tr.TreatmentUse)
		}
		if tr.NeedsNoBrood() && tr.Rounds == 1 && tr.ExpectBrood > 50 {
			t.Errorf("%s reaches no cells, and %v percent are expected of it beside brood", tr.Slug, tr.ExpectBrood)
		}
	}
	// Fluvalinate and flumethrin are one group: changing between them is not
	// a change of the mode of action.
	if groups["flumethrin"] != groups["tau-fluvalinate"] || groups["amitraz"] == groups["flumethrin"] {
		t.Errorf("modes of action: %v", groups)
	}
}

// The targets of the European Medicines Agency 2008 (quoted in Dietemann et
// al. 2013, J Apic Res 52(1)): 95 % for synthetic substances, 90 % for others.
func TestTreatmentTargets(t *testing.T) {
	for _, tr := range sampling.Treatments() {
		want := 90.0
		switch tr.ModeOfAction {
		case "formamidine", "pyrethroid", "organophosphate":
			want = 95
		}
		if tr.TargetPercent != want {
			t.Errorf("%s: target %v, want %v", tr.Slug, tr.TargetPercent, want)
		}
	}
}

// Every figure of use has a source and a kind; a temperature is published or
// common practice, and no treatment has a figure twice.
func TestTreatmentFigures(t *testing.T) {
	kinds := []string{"published", "common practice", "computed", "judgement", "second-hand", "memory"}
	seen := map[string]bool{}
	for _, tr := range sampling.Treatments() {
		needed := map[string]bool{"days": true, "with_supers": true, "target": true, "expect_brood": true, "expect_no_brood": true}
		for _, f := range sampling.TreatmentFigures(tr.Slug) {
			figure := strings.TrimSuffix(f.Name, "_"+tr.Slug)
			if f.Value == "" || f.Source == "" || !slices.Contains(kinds, f.Kind) || strings.HasSuffix(f.What, ": ") || seen[f.Name] {
				t.Errorf("%+v", f)
			}
			if (figure == "cool" || figure == "warm") && f.Kind != "published" && f.Kind != "common practice" {
				t.Errorf("a temperature needs better than %s: %+v", f.Kind, f)
			}
			seen[f.Name] = true
			delete(needed, figure)
		}
		if len(needed) > 0 {
			t.Errorf("%s lacks %v", tr.Slug, needed)
		}
	}
	if all := sampling.TreatmentFigures(""); len(all) != len(seen) {
		t.Errorf("%d figures, of known treatments %d", len(all), len(seen))
	}
}

// The means in the table, from the figures of the papers it names: Gregorc &
// Planinc 2001, Apidologie 32:333-340 (three solutions); Pietropaoli & Formato
// 2022, J Apic Res (three forms); Bartlett et al. 2023, J Insect Sci, worked
// out from the open data, and Sabahi et al. 2017, Exp Appl Acarol 72:263-275.
func TestExpectedOfTrials(t *testing.T) {
	mean := func(xs ...float64) float64 {
		sum := 0.0
		for _, x := range xs {
			sum += x
		}
		return math.Round(sum / float64(len(xs)))
	}
	for slug, want := range map[string]float64{
		"oxalic-trickle":     mean(52.28, 40.66, 39.16),
		"formic-evaporation": mean(73.2, 49.3, 81.2),
		"oxalic-strip":       mean(22, 52, 43, 62, 76.5),
	} {
		if tr, err := sampling.FindTreatment(slug); err != nil || tr.ExpectPercent(true) != want {
			t.Errorf("%s: %v expected, want %v, %v", slug, tr.ExpectPercent(true), want, err)
		}
	}
}

func TestNeedsNoBrood(t *testing.T) {
	var needs, synthetic []string
	for _, tr := range sampling.Treatments() {
		if tr.NeedsNoBrood() {
			needs = append(needs, tr.Slug)
		}
		if tr.Synthetic() {
			synthetic = append(synthetic, tr.Slug)
		}
	}
	if want := []string{"oxalic-vapour", "oxalic-trickle", "oxalic-spray", "hop-acids"}; !slices.Equal(needs, want) {
		t.Errorf("%v need no brood, want %v", needs, want)
	}
	if want := []string{"amitraz-strip", "fluvalinate-strip", "flumethrin-strip", "coumaphos-strip"}; !slices.Equal(synthetic, want) {
		t.Errorf("%v are synthetic, want %v", synthetic, want)
	}
}

func TestFindTreatmentErrors(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"oxalic-vapor", "did you mean oxalic-vapour?"},
		{"", "the treatment is missing"},
		{"hope", `"hope" is not a treatment`},
	} {
		_, err := sampling.FindTreatment(c.in)
		var syntax *sampling.SyntaxError
		if !errors.As(err, &syntax) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("FindTreatment(%q): %v, want %q", c.in, err, c.want)
		}
	}
	if tr, err := (sampling.TreatmentName{Active: "thymol"}).Find(); err != nil || tr.Slug != "thymol" {
		t.Errorf("thymol alone: %v, %v", tr, err)
	}
	for name, want := range map[sampling.TreatmentName]string{
		{Active: "oxalic acid"}:                        "how the oxalic acid was given is missing: write one of vapour, trickle, spray, strip",
		{Active: "oxalic acid", Application: "sponge"}: `oxalic acid is not given as "sponge"`,
		{Active: "sugar", Application: "dust"}:         `"sugar, dust" is not a treatment`,
	} {
		if _, err := name.Find(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, want %q", name, err, want)
		}
	}
}

// Values of R 4.2.2: qbeta(c(.1,.5,.9), 9, 3) and sqrt of the variance formula
// in Johnson, Kotz & Balakrishnan 1995, Continuous Univariate Distributions 2.
func TestBeta(t *testing.T) {
	b := sampling.Beta{Alpha: 9, Beta: 3}
	for p, want := range map[float64]float64{.1: 0.5848431, .5: 0.7642145, .9: 0.8952263} {
		if got := b.Quantile(p); !(math.Abs(got-want) <= 5e-8) {
			t.Errorf("quantile %v = %.6f, want %v", p, got, want)
		}
	}
	if b.Mean() != .75 || b.Mode() != .8 || !(math.Abs(b.SD()-math.Sqrt(27.0/(144*13))) <= 1e-15) {
		t.Errorf("mean %v mode %v sd %v", b.Mean(), b.Mode(), b.SD())
	}
	for b, want := range map[sampling.Beta]float64{{Alpha: 1, Beta: 3}: 0, {Alpha: .5, Beta: 1}: 0, {Alpha: 3, Beta: 1}: 1, {Alpha: 1, Beta: .5}: 1} {
		if got := b.Mode(); got != want {
			t.Errorf("mode of %v = %v, want %v", b, got, want)
		}
	}
	for _, b := range []sampling.Beta{{Alpha: 1, Beta: 1}, {Alpha: .5, Beta: .5}} {
		if !math.IsNaN(b.Mode()) {
			t.Errorf("%v has no single mode, got %v", b, b.Mode())
		}
	}
	for _, b := range []sampling.Beta{{}, {Alpha: math.NaN(), Beta: 1}, {Alpha: 1, Beta: math.Inf(1)}, {Alpha: -1, Beta: 2}} {
		var value *sampling.ValueError
		if err := b.Check("kill"); !errors.As(err, &value) {
			t.Errorf("%v passes the check: %v", b, err)
		}
	}
}
