package decide

import (
	"math"

	"halfcup/sampling"
)

// Enough tells whether the bees already taken were enough, for each of the
// three things a sample can be taken for.
type Enough struct {
	Call      EnoughCall
	Figure    EnoughFigure
	Detection Detection
}

// EnoughCall is whether the counts settle what to do.
type EnoughCall struct {
	OK            bool    // exactly when the call is not to count again
	WrongByAThird float64 // chance that the line is missed by more than a third on the wrong side of the call
	More          []Decisive

	// Needless is the chance that the treatment called for is not needed, the
	// level being under the line; 0 when none is called for. OnlyToAct says that
	// it is a quarter or more: the bees are enough to act on, because a missed
	// treatment costs more than a needless one, and not enough to be sure.
	Needless  float64
	OnlyToAct bool
}

// Decisive is a further sample after which the call would not be to count again
// with a chance of at least four in five, as would be so after any larger one
// that is offered off as many frames.
type Decisive struct {
	More
	Chance float64 // of that
}

// EnoughFigure is whether the counts give a figure to rely on.
type EnoughFigure struct {
	Precision float64 // SD over mean of the counts together
	Wanted    float64
	OK        bool
	More      []More // the smallest samples off several frames that would
}

// Detection is what such a sample can find at all.
type Detection struct {
	Chance          float64 // of at least one mite in it, in a colony at the line
	LevelPerHundred float64 // the line

	// Bees is the textbook's answer: so many bees, picked from all over the
	// brood nest and washed with care, show at least one mite with a chance of
	// 95 % at the line. Off one frame it takes more, for its bees are alike.
	Bees int
}

// More is a sample that would do.
type More struct {
	Method sampling.Method
	Bees   int // scooped
	Frames int
}

const (
	thirdOff        = 4.0 / 3 // a third past the line
	oneInFour       = 0.25    // share of needless treatments that is no longer let pass unsaid
	mostlySure      = 0.8     // chance with which a sample should settle the call
	mostBees        = 900     // more than three half cups nobody takes off one colony
	mostFrames      = 5
	sureToFind      = 0.95
	wantedPrecision = 0.25 // SD over mean: the usual target of field sampling (Southwood, Ecological Methods, from memory)
)

// Enough answers for a situation on a day on which something was counted.
func (s Situation) Enough() (Enough, error) {
	call, _, err := s.calledToday()
	if err != nil {
		return Enough{}, err
	}
	return s.enough(call)
}

// enough answers for a call that was made.
func (s Situation) enough(call Call) (Enough, error) {
	var e Enough
	var err error
	e.Call.OK = call != CountAgain
	e.Call.WrongByAThird = s.wrong(s.State.Known, s.Stakes().Regret(s.State.Known).Treats())
	if call.Treats() {
		e.Call.Needless = 1 - s.State.Known.Over(s.Threshold.Act/100)
		e.Call.OnlyToAct = e.Call.Needless >= oneInFour
	}
	if !e.Call.OK {
		if e.Call.More, err = s.moreForCall(); err != nil {
			return e, err
		}
	}
	counts := s.latest()
	a := s.History.Assumptions
	e.Figure.Wanted = wantedPrecision
	if e.Figure.Precision, err = Precision(a, counts); err != nil {
		return e, err
	}
	e.Figure.OK = e.Figure.Precision <= wantedPrecision
	if !e.Figure.OK {
		e.Figure.More = s.moreForFigure()
	}
	e.Detection.LevelPerHundred = s.Threshold.Act
	e.Detection.Bees, _ = Search{Prevalence: carrying(s.Threshold.Act / 100), Sensitivity: 1}.Size(sureToFind) // a line is never zero
	e.Detection.Chance, err = s.detection(counts)
	return e, err
}

// latest are the counts of the last counted day.
func (s Situation) latest() []sampling.Count {
	var out []sampling.Count
	for _, e := range s.State.Evidence {
		if e.Count.Date == s.State.Evidence[len(s.State.Evidence)-1].Count.Date {
			out = append(out, e.Count)
		}
	}
	return out
}

// wrong is the chance that the level lies more than a third past the line, on
// the side where the choice is a mistake.
func (s Situation) wrong(d sampling.Density, treats bool) float64 {
	act := s.Threshold.Act / 100
	if treats {
		return 1 - d.Over(act/thirdOff)
	}
	return d.Over(act * thirdOff)
}

// moreForCall finds, for each method of counting bees, the fewest bees that are
// offered, and among equal bees the fewest frames, from which on every size
// settles the call.
func (s Situation) moreForCall() ([]Decisive, error) {
	var out []Decisive
	for _, m := range lookMethods {
		if m.Kind() != sampling.BeeSample {
			continue
		}
		var best Decisive
		looks := s.looksBy(m) // few frames first, small ones first
		for i := len(looks) - 1; i >= 0; i-- {
			look := looks[i]
			chance, err := s.ChanceSettled(look)
			if err != nil {
				return nil, err
			}
			if chance < mostlySure {
				// No smaller one off as many frames is named.
				for i > 0 && looks[i-1].Frames == look.Frames {
					i--
				}
				continue
			}
			if bees := ScoopedBees(look); best.Bees == 0 || bees <= best.Bees {
				best = Decisive{More{m, bees, look.Frames}, chance}
			}
		}
		if best.Bees > 0 {
			out = append(out, best)
		}
	}
	return out, nil
}

// ChanceSettled is the chance that the call would not be to count again once a
// count like look had been made today, by the same calls that CutPoints names.
func (s Situation) ChanceSettled(look sampling.Count) (float64, error) {
	cuts, err := s.CutPoints(Candidate{Plan: LookNow, Count: look})
	if err != nil {
		return 0, err
	}
	p, err := s.prospect(look)
	if err != nil {
		return 0, err
	}
	settled := 0.0
	for _, c := range cuts {
		if c.Call == CountAgain {
			continue
		}
		settled += p.Chance(c.From, true)
		if c.To >= 0 {
			settled -= p.Chance(c.To+1, true)
		}
	}
	return math.Min(1, math.Max(0, settled)), nil
}

// Precision is the SD over the mean of counts taken together:
// √(CV²frame/frames + CV²bees + 1/mites) for bee samples. A fall has the spread
// of its reading in place of frames and bees, and each is taken by itself; the
// whole is put together by the inverse of the variances. Without any mite it is
// infinite.
func Precision(a sampling.Assumptions, counts []sampling.Count) (float64, error) {
	mites, frames, bees, beesVariance := 0, 0, 0.0, 0.0
	information := 0.0
	for _, c := range counts {
		if c.Method.Kind() == sampling.Fall {
			fall, err := a.BoardFallOver(c.Hive)
			if err != nil {
				return 0, err
			}
			information += 1 / (math.Expm1(fall.LogSD*fall.LogSD) + a.BoardDayCV*a.BoardDayCV/c.DaysOnBoard() + 1/float64(c.Mites))
			continue
		}
		n, cv, err := a.BeesOf(c)
		if err != nil {
			return 0, err
		}
		mites += c.Mites
		frames += max(c.Frames, 1)
		bees += n
		beesVariance += n * n * cv * cv
	}
	if frames > 0 {
		information += 1 / (a.FrameCV*a.FrameCV/float64(frames) + beesVariance/(bees*bees) + 1/float64(mites))
	}
	return 1 / math.Sqrt(information), nil
}

// BeesForPrecision is the number of bees, all counted, off so many frames that
// gives a wash the precision at a level in mites per bee; +Inf when no number
// does, because the frames alone differ too much. It is the fixed-precision
// sample size (1/m + 1/k)/C² of field sampling, solved for the bees, with
// 1/k = CV²frame/frames.
func BeesForPrecision(a sampling.Assumptions, theta, precision float64, frames int) float64 {
	left := precision*precision - a.FrameCV*a.FrameCV/float64(frames)
	if left <= 1e-12 {
		return math.Inf(1)
	}
	return 1 / (left * theta)
}

// moreForFigure lists, for each number of frames that can do at all, the bees
// to count for a figure to rely on at what is the likeliest level. The bees
// must be counted, for a scoop adds a spread of its own; so they are washed, and
// there is no way when none is to be killed.
func (s Situation) moreForFigure() []More {
	var out []More
	if s.without(sampling.Wash) {
		return nil
	}
	for frames := 1; frames <= mostFrames; frames++ {
		n := BeesForPrecision(s.History.Assumptions, s.State.Known.Quantile(0.5), wantedPrecision, frames)
		if n <= 20*mostBees {
			out = append(out, More{sampling.Wash, int(math.Ceil(n)), frames})
		}
	}
	return out
}

// carrying is the share of bees that carry a mite when the mites on them fall
// as by chance, theta a bee.
func carrying(theta float64) float64 { return -math.Expm1(-theta) }

// detection is the chance that counts such as these show at least one mite in
// a colony that is exactly at the line.
func (s Situation) detection(counts []sampling.Count) (float64, error) {
	if len(counts) == 0 {
		return 0, nil
	}
	none := make([]sampling.Count, len(counts))
	for i, c := range counts {
		c.Mites = 0
		none[i] = c
	}
	l, err := s.History.Assumptions.Likelihood(none...)
	if err != nil {
		return 0, err
	}
	return 1 - l.At(s.Threshold.Act/100), nil
}
