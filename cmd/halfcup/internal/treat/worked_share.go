package treat

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
)

// followUpForm is what fell under a treatment and under a follow-up.
type followUpForm struct{ killed, left int }

func workedFollowUp(sh *line.Shell, c *cli.Context, a *worked) (workedForm, error) {
	var err error
	if a.capped, err = a.cappedOn(c, sh.Today); err != nil {
		return nil, err
	}
	a.expect()
	for _, name := range []string{"killed", "follow-up"} {
		if !c.IsSet(name) {
			return nil, line.TooFew("the mites of the treatment and those of the follow-up are both needed, and --"+name+" is missing", "halfcup worked --killed 1880 --follow-up 120")
		}
	}
	f := &followUpForm{}
	if f.killed, err = line.Whole(c, "killed"); err != nil {
		return nil, err
	}
	if f.left, err = line.Whole(c, "follow-up"); err != nil {
		return nil, err
	}
	a.Reduction, err = decide.Share(f.killed, f.killed+f.left, a.level)
	a.answer = a.Answer(a.target)
	return f, err
}

func (f *followUpForm) verdict(a *worked) string {
	subject := a.subject("") + ": "
	switch a.answer {
	case decide.Worked:
		return subject + "it worked, as far as the follow-up found all that was left."
	case decide.DidNot:
		return subject + "it did less than it should."
	}
	return subject + "cannot tell from so few mites; put several colonies together."
}

func (f *followUpForm) figures(a *worked) string {
	return fmt.Sprintf("Of the %d mites that fell it took %s, by exact limits.", f.killed+f.left, tenths(a.Reduction))
}

func (f *followUpForm) print(io.Writer, show.Page, *worked) {}

// tenths writes a share with its limits, with a decimal where they are close:
// boards hold many mites, and whole percents would put 94.9 on a line of 95.
func tenths(r decide.Reduction) string {
	if r.High-r.Low >= 0.1 {
		return limits(r)
	}
	of := func(share float64) string {
		switch {
		case share == 1:
			return say.Took(share)
		case share >= 0.9995:
			return "over 99.9%"
		}
		return show.Fixed(100*share, 1) + "%"
	}
	return fmt.Sprintf("%s (%s to %s)", of(r.Middle), of(r.Low), of(r.High))
}

const followUpTaken = "This takes the follow-up to be of another group and to kill nearly all that is left; what it misses flatters the treatment."

func (f *followUpForm) warnings(*worked) []say.Warning {
	return say.Warn(say.Flattered, followUpTaken)
}

const followUpWhy = "Of every 100 mites in this colony the treatment brought down about %.0f, and the follow-up the rest. " +
	"With so many counted, luck moves that figure little: it would be odd if it were under %.1f or over %.1f. The line of %.0f is %s. " +
	"Regulators ask for a follow-up of more than 95%% known efficacy (Dietemann et al. 2013, J Apic Res 52(1)). " +
	"It is wrong if the follow-up missed mites, for then some are in nobody's count, or if ants or wind took mites off the board."

func (f *followUpForm) explain(a *worked) string {
	return fmt.Sprintf(followUpWhy,
		100*a.Middle, 100*a.Low, 100*a.High, 100*a.target, a.asked())
}

func (f *followUpForm) json(*worked, *workedJSON) {}

func (f *followUpForm) rows() [][]any { return nil }

// jarForm is mites shut up with a strip.
type jarForm struct {
	killed, exposed int
	dead, all       int // without the substance, 0 of 0 when not tried
}

func workedJar(sh *line.Shell, c *cli.Context, a *worked) (workedForm, error) {
	if math.IsNaN(a.target) {
		a.target = decide.JarTargetPercent() / 100
	}
	if !c.IsSet("jar") {
		return nil, line.TooFew("a jar without the substance says nothing by itself", "halfcup worked --jar 45/60 --jar-control 2/50")
	}
	f := &jarForm{}
	var err error
	if f.killed, f.exposed, err = someOf(c, "jar"); err != nil {
		return nil, err
	}
	if c.IsSet("jar-control") {
		if f.dead, f.all, err = someOf(c, "jar-control"); err != nil {
			return nil, err
		}
		if f.dead == f.all {
			return nil, line.BadValue("jar-control", c.String("jar-control"), "all mites died without the substance, so the jar tells nothing", "try again with fresh bees, in the dark and not too warm")
		}
	}
	if a.Reduction, err = decide.Share(f.killed, f.exposed, a.level); err != nil {
		return nil, err
	}
	if f.all > 0 {
		alive := 1 - float64(f.dead)/float64(f.all)
		corrected := func(killed float64) float64 { return math.Max(0, decide.Abbott(1-killed, alive)) }
		a.Reduction = decide.Reduction{Middle: corrected(a.Middle), Low: corrected(a.Low), High: corrected(a.High)}
	}
	a.answer = a.Answer(a.target)
	return f, nil
}

// someOf reads a flag that says so many of so many.
func someOf(c *cli.Context, name string) (some, of int, err error) {
	text := c.String(name)
	first, second, found := strings.Cut(text, "/")
	if !found {
		return 0, 0, line.BadValue(name, text, "this does not say of how many", "write it like 45/60")
	}
	v := [2]float64{}
	for i, part := range []string{first, second} {
		if v[i], err = line.ParseNumber(part, 0, 10_000); err != nil {
			return 0, 0, line.InFlag(name, line.Within(text, i*(len(first)+1), err))
		}
	}
	some, of = int(v[0]), int(v[1])
	if float64(some) != v[0] || float64(of) != v[1] || of < 1 || some > of {
		return 0, 0, line.BadValue(name, text, "these are not some mites of all mites", "write whole numbers, the dead ones first, such as 45/60")
	}
	return some, of, nil
}

func (f *jarForm) verdict(a *worked) string {
	switch a.answer {
	case decide.Worked:
		return "No sign of resistance in this jar. Look at how it was given, at the brood and at the neighbours."
	case decide.DidNot:
		return "Suspect resistance: choose another group, and have it confirmed."
	}
	return "This jar does not tell; expose more mites."
}

func (f *jarForm) figures(a *worked) string {
	out := fmt.Sprintf("%d of %d mites died: %s, by exact limits.", f.killed, f.exposed, limits(f.bare(a)))
	if f.all > 0 {
		out += fmt.Sprintf(" Without the substance %d of %d died; corrected for them %s (Abbott 1925).", f.dead, f.all, limits(a.Reduction))
	}
	return out + fmt.Sprintf(" Resistance is suspected where fewer than %s die.", say.Percent(a.target))
}

func (f *jarForm) print(io.Writer, show.Page, *worked) {}

// bare is the share that died, without the correction.
func (f *jarForm) bare(a *worked) decide.Reduction {
	r, err := decide.Share(f.killed, f.exposed, a.level)
	if err != nil {
		return a.Reduction // it was made from the same numbers
	}
	return r
}

const oneJar = "One jar is weak evidence: of the same mites 89% died of one substance and 6% of another (Pest Manag Sci 2023, doi 10.1002/ps.7891). " +
	"Try several colonies, and keep the jar dark and at the heat of the brood nest."

func (f *jarForm) warnings(*worked) []say.Warning {
	out := say.Warn(say.Limits, oneJar)
	if f.all == 0 {
		out = append(out, say.Warning{Kind: say.Flattered, Text: "Some mites die in any jar. A second jar without the substance (--jar-control) tells how many."})
	}
	return out
}

const jarWhy = "You shut mites up with the substance, where nothing protects them. " +
	"Of every 100, about %.0f would die; with only %s tried it could be anything from %.0f to %.0f. " +
	"If fewer than %.0f die, the mites of this apiary may no longer mind the substance. " +
	"That line is common practice from one paper (Pettis, Shimanuki & Feldlaufer 1998, from memory), not a law of nature. " +
	"It is wrong if the bees were weak, the jar too warm or too cold, or the strip old."

func (f *jarForm) explain(a *worked) string {
	return fmt.Sprintf(jarWhy,
		100*a.Middle, show.Many(f.exposed, "mite", "mites"), 100*a.Low, 100*a.High, 100*a.target)
}

func (f *jarForm) json(_ *worked, out *workedJSON) {
	out.Assumptions = sourcesOf("jar_target")
}

func (f *jarForm) rows() [][]any { return nil }
