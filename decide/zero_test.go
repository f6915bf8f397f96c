package decide_test

import (
	"fmt"
	"reflect"
	"testing"

	"halfcup/decide"
	"halfcup/sampling"
)

// zeros are a zero value of every type whose methods work something out.
var zeros = []any{
	decide.Apiary{}, decide.Rules{}, decide.History{}, decide.Year{}, decide.Rates{}, decide.Colony{}, decide.Comparison{}, decide.Course{}, decide.Detection{},
	decide.Falls{}, decide.Happening{}, decide.PathPlan{}, decide.Path{}, decide.Performance{}, decide.Pool{}, decide.Range{}, decide.Reduction{}, decide.Rounds{}, decide.Search{},
	decide.Situation{}, decide.Stakes{}, decide.Standing{}, decide.State{}, decide.StopPlan{}, decide.SupersPlan{}, decide.Tally{}, decide.Fit{}, decide.Move{}, decide.Nest{}, decide.Outlook{}, decide.Left{}, decide.Growth{}, decide.Mites{},
	decide.YardPlan{}, decide.YardPrior{}, decide.YardStanding{}, decide.YearPlan{}, decide.YearReport{}, decide.YearOutlook{}, decide.YearCounts{}, decide.YearStep{}, decide.Season(""), decide.Candidate{}, decide.Duty{}, decide.Event{}, decide.Circumstances{}, decide.Costs{}, decide.Brood(0), decide.Kill{},
	decide.Enough{}, decide.EnoughCall{}, decide.Objection{}, decide.Option{}, decide.Part{}, decide.WinterLoss{}, decide.Window{}, decide.Supers{}, decide.TreatmentDay{},
	sampling.Amount{}, sampling.Assumptions{}, sampling.Beta{}, sampling.BoardFall{}, sampling.Calibration{}, sampling.Count{}, sampling.Date(0), sampling.Density{}, sampling.Evidence{}, sampling.Hive{}, sampling.Interval{},
	sampling.IntervalKind(""), sampling.Kernel{}, sampling.KnockdownReading{}, sampling.Likelihood{}, sampling.Method(""), sampling.Pair{}, sampling.Prior{}, sampling.Prospect{}, sampling.Scores{}, sampling.Summary{}, sampling.Survey{}, sampling.Treatment{}, sampling.TreatmentName{}, sampling.TreatmentUse{}, sampling.Warmth{},
}

// A value that nobody filled in gives an error, or a figure that is none; it
// ends no program. Every method is called, with nothing but zeros too.
func TestZeroValuesDoNotPanic(t *testing.T) {
	for _, zero := range zeros {
		v := reflect.New(reflect.TypeOf(zero))
		for i := range v.NumMethod() {
			name := fmt.Sprintf("%T.%s", zero, v.Type().Method(i).Name)
			m := v.Method(i)
			var args []reflect.Value
			callable := true
			for j := range m.Type().NumIn() {
				in := m.Type().In(j)
				if m.Type().IsVariadic() && j == m.Type().NumIn()-1 {
					continue
				}
				callable = callable && in.Kind() != reflect.Func && in.Kind() != reflect.Interface && in.Kind() != reflect.Pointer
				args = append(args, reflect.Zero(in))
			}
			if !callable {
				continue
			}
			func() {
				defer func() {
					if r := recover(); r != nil {
						t.Errorf("%s: %v", name, r)
					}
				}()
				m.Call(args)
			}()
		}
	}
}
