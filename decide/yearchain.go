package decide

import (
	"math"

	"halfcup/sampling"
)

// The chain goes in weeks over ln θ of one colony, on a grid coarser than that
// of a density: a year of it is run some hundred times for one answer.
const (
	chainNodes   = 81
	chainLowest  = 1e-5 // mites per bee
	chainHighest = 0.8

	chainArrivals = 3 // how many mites come in: the thirds of their law
	chainParts    = 3 // of a course: it works, it fails, it does far better

	// mostRun is how many weekly looks running over the line the chain can tell
	// apart; more than that have passed. A colony that was called and waits
	// for its treatment is told apart too.
	mostRun   = 7
	waiting   = mostRun + 1
	chainBins = mostRun + 2

	week = 7
)

// chainStep is how far apart the levels of the grid lie on the log scale.
var chainStep = math.Log(chainHighest/chainLowest) / (chainNodes - 1)

// chainAt is a level of the grid on the log scale.
func chainAt(i int) float64 { return math.Log(chainLowest) + float64(i)*chainStep }

// levels is a mass by the nodes of the grid.
type levels [chainNodes]float64

func (l *levels) sum() float64 {
	sum := 0.0
	for _, m := range l {
		sum += m
	}
	return sum
}

// over is the mass over a level in mites per hundred bees. A node stands for
// half a step to either side.
func (l *levels) over(perHundred float64) float64 {
	sum := 0.0
	for i, share := range overNodes(perHundred) {
		sum += share * l[i]
	}
	return sum
}

// overNodes is how much of each node lies over a level in mites per hundred.
func overNodes(perHundred float64) *levels {
	var out levels
	at := (math.Log(perHundred/100) - chainAt(0)) / chainStep
	for i := range out {
		out[i] = min(1, max(0, float64(i)+0.5-at))
	}
	return &out
}

// on puts a density on the grid, with its mass and its mean kept.
func onGrid(d sampling.Density) *levels {
	var out levels
	for i, m := range d.Mass() {
		out.put(m, fineNodes[i])
	}
	return &out
}

// fineNodes are the places of the nodes of a density on the log scale.
var fineNodes = func() []float64 {
	nodes := sampling.Nodes()
	for i, theta := range nodes {
		nodes[i] = math.Log(theta)
	}
	return nodes
}()

// put shares a mass out between the two nodes next to a place.
func (l *levels) put(mass, x float64) {
	at := min(max((x-chainAt(0))/chainStep, 0), chainNodes-1)
	i := min(int(at), chainNodes-2)
	part := at - float64(i)
	l[i] += mass * (1 - part)
	l[i+1] += mass * part
}

// density is the mass on the grid as a density.
func (l *levels) density() sampling.Density {
	d, err := sampling.Flat().Times(sampling.LikelihoodOf(func(theta float64) float64 {
		at := (math.Log(theta) - chainAt(0)) / chainStep
		if !(at >= 0 && at <= chainNodes-1) {
			return 0
		}
		i := min(int(at), chainNodes-2)
		part := at - float64(i)
		return l[i]*(1-part) + l[i+1]*part
	}))
	if err != nil { // no mass at all
		return sampling.Normal(chainAt(0), chainStep)
	}
	return d
}

// spread is what a time does to the levels: a row a node, with the nodes its
// mass goes to. Rows sum to one, so no mass is lost; what leaves the grid stays
// at its end.
type spread struct {
	first [chainNodes]int
	row   [chainNodes][]float64
}

// newSpread shifts ln θ, adds mites per bee and blurs. The mean and the variance
// of each row are those asked for, as far as the steps of the grid allow.
func newSpread(shift, variance, add float64) *spread {
	s := &spread{}
	// Sharing a mass out between two nodes blurs it by a sixth of a squared
	// step, if it lies anywhere between them.
	sd := math.Sqrt(max(variance-chainStep*chainStep/6, 0))
	first, bell := hatBell(shift/chainStep, sd/chainStep) // of node 0, and the same of all when nothing is added
	for i := range s.row {
		from := i + first
		if add > 0 {
			to := math.Log(math.Exp(chainAt(i)+shift) + add)
			from, bell = hatBell((to-chainAt(0))/chainStep, sd/chainStep)
		}
		low := min(max(from, 0), chainNodes-1)
		high := min(max(from+len(bell)-1, 0), chainNodes-1)
		row := make([]float64, high-low+1)
		for k, w := range bell {
			row[min(max(from+k, low), high)-low] += w
		}
		s.first[i], s.row[i] = low, row
	}
	return s
}

// hatBell is how a normal density around a place, all in steps, is shared out
// between the nodes, from the first that gets some. It sums to one: the tails of
// the bell are cut off.
func hatBell(at, sd float64) (first int, bell []float64) {
	half := int(math.Ceil(4.5*sd)) + 1
	first, bell = int(math.Floor(at))-half, make([]float64, 2*half+2)
	z := float64(first) - at
	below, here := hatIntegral(z-1, sd), hatIntegral(z, sd)
	sum := 0.0
	for k := range bell {
		above := hatIntegral(z+float64(k)+1, sd)
		bell[k] = max(0, above-2*here+below)
		sum += bell[k]
		below, here = here, above
	}
	for k := range bell {
		bell[k] /= sum
	}
	return first, bell
}

// hatIntegral is the integral up to z, and that of it once more, of a normal
// density of the given spread around 0. Its second difference over the steps z-1,
// z and z+1 is the mass that the density shares out to the node z: its integral
// over the triangle of width one to either side.
func hatIntegral(z, sd float64) float64 {
	if sd < 1e-6 {
		return max(0, z)
	}
	z /= sd
	return sd * (z*0.5*math.Erfc(-z/math.Sqrt2) + math.Exp(-z*z/2)/math.Sqrt(2*math.Pi))
}

// leastMass is the mass that is moved without being blurred.
const leastMass = 1e-12

// forward lets the levels go on; into is added to.
func (s *spread) forward(from, into *levels) {
	for i, m := range from {
		if m < leastMass {
			// Not worth a row, and yet no mass is lost.
			into[min(max(s.first[i]+len(s.row[i])/2, 0), chainNodes-1)] += m
			continue
		}
		row := s.row[i]
		into := into[s.first[i] : s.first[i]+len(row)]
		for k, w := range row {
			into[k] += m * w
		}
	}
}

// back is what a value at the end of the time is worth at its start.
func (s *spread) back(value, into *levels) {
	for i, row := range s.row {
		sum := 0.0
		for k, w := range row {
			sum += w * value[s.first[i]+k]
		}
		into[i] += sum
	}
}

// mix is several spreads, of which one happens with its weight.
type mix struct {
	weights []float64
	spreads []*spread
}

func newMix(parts []Part) mix {
	var m mix
	for _, p := range parts {
		if p.Weight > 0 {
			m.weights, m.spreads = append(m.weights, p.Weight), append(m.spreads, newSpread(p.Shift, p.Variance, 0))
		}
	}
	return m
}

func (m mix) forward(from, into *levels) {
	for k, s := range m.spreads {
		part := *from
		for i := range part {
			part[i] *= m.weights[k]
		}
		s.forward(&part, into)
	}
}

func (m mix) back(value, into *levels) {
	for k, s := range m.spreads {
		var part levels
		s.back(value, &part)
		for i := range into {
			into[i] += m.weights[k] * part[i]
		}
	}
}

// masses are those of all states of the chain: how many mites come in, which
// part of the course in progress (the first when there is none), how many weeks
// running over the line, and the level.
type masses [chainArrivals][chainParts][chainBins]levels

// all are the levels whatever the rest.
func (m *masses) all() *levels {
	var out levels
	for a := range m {
		for k := range m[a] {
			for b := range m[a][k] {
				for i, v := range m[a][k][b] {
					out[i] += v
				}
			}
		}
	}
	return &out
}

// passed is the mass of colonies that were over the line too long.
func (m *masses) passed() float64 {
	sum := 0.0
	for a := range m {
		for k := range m[a] {
			sum += m[a][k][mostRun].sum()
		}
	}
	return sum
}

// leg is a time of the chain in which one course, or none, is in progress.
type leg struct {
	from, to sampling.Date
	course   int                  // of the path, noCourse for none
	split    *[chainParts]float64 // the weights when a course begins with the leg
	merge    bool                 // the course of the leg before is forgotten
	spreads  [chainArrivals][chainParts]*spread

	look *look // at the end of the leg; nil when none is due
}

// look is a weekly moment of the chain.
type look struct {
	on   sampling.Date
	act  float64             // the line, in mites per hundred bees
	over *levels             // how much of each node is over it
	q    float64             // the chance that something happened since the last one that nobody wrote down
	new  [chainParts]*levels // and how the colony is then, of mass one

	// What a count of the day would lead to.
	call *remedy
}

// remedy is what is done to a colony that a count called.
type remedy struct {
	mix   mix
	waits int                // place of the look at which the treatment is given, if it must wait
	plan  bool               // nothing beside the plan, which treats within three weeks
	what  sampling.Treatment // what is given
}

// chain is the year of a plan, ready to be run.
type chain struct {
	legs  []leg
	looks []*look
	start *levels
	first *[chainParts]float64 // the weights when a course is in progress at the start
	due   map[int]mix          // by the look at which colonies that wait are treated
}

// span is the looks between which colonies over the line are told, and how many
// of them running are too many.
type span struct {
	from, until sampling.Date
	most        int // looks running that do not yet pass
}

// called is the chance of a call by a count at a look, by the level.
type called map[int]*levels

// run is the chain run forward: the states at each look before its count, and
// at the end.
type run struct {
	at  []*masses // by look, when they are kept
	all []*levels // by look
	end *masses
}

func (c *chain) forward(s span, counts called, keep bool) run {
	m := &masses{}
	for a := range m {
		for i, v := range c.start {
			if c.first == nil {
				m[a][0][0][i] = v / chainArrivals
				continue
			}
			for k, w := range c.first {
				m[a][k][0][i] = w * v / chainArrivals
			}
		}
	}
	r := run{}
	n, into := 0, &masses{}
	for i := range c.legs {
		l := &c.legs[i]
		l.forward(m, into)
		m, into = into, m
		if l.look == nil {
			continue
		}
		l.look.happen(m)
		r.all = append(r.all, m.all())
		if keep {
			before := *m
			r.at = append(r.at, &before)
		}
		c.count(n, m, counts[n])
		l.look.tell(s, m)
		n++
	}
	r.end = m
	return r
}

// forward lets the masses go on through the leg.
func (l *leg) forward(m, out *masses) {
	*out = masses{}
	for a := range m {
		parts := &m[a]
		if l.merge || l.split != nil {
			var one [chainBins]levels
			for k := range parts {
				for b := range parts[k] {
					for i, v := range parts[k][b] {
						one[b][i] += v
					}
				}
			}
			parts = &[chainParts][chainBins]levels{}
			parts[0] = one
			if l.split != nil {
				for k, w := range l.split {
					for b := range one {
						for i, v := range one[b] {
							parts[k][b][i] = w * v
						}
					}
				}
			}
		}
		for k := range parts {
			if l.spreads[a][k] == nil {
				continue
			}
			for b := range parts[k] {
				l.spreads[a][k].forward(&parts[k][b], &out[a][k][b])
			}
		}
	}
}

// happen lets what nobody writes down happen. The colony is then as one that
// nobody has looked at; that it was over the line before is not undone.
func (l *look) happen(m *masses) {
	if l.q == 0 {
		return
	}
	for a := range m {
		for k := range m[a] {
			for b := range m[a][k] {
				at := &m[a][k][b]
				sum := at.sum()
				if sum == 0 {
					continue
				}
				for i := range at {
					at[i] = (1-l.q)*at[i] + l.q*sum*l.new[k][i]
				}
			}
		}
	}
}

// count takes the colonies out of the unseen that a count calls, and treats
// those that waited.
func (c *chain) count(n int, m *masses, calls *levels) {
	due, waited := c.due[n]
	if !waited && calls == nil {
		return
	}
	for a := range m {
		for k := range m[a] {
			parts := &m[a][k]
			// Those that waited are not counted on the day they are treated.
			from := parts[waiting]
			if waited {
				parts[waiting] = levels{}
			}
			if calls != nil {
				c.call(n, parts, calls)
			}
			if waited {
				due.forward(&from, &parts[0])
			}
		}
	}
}

// call takes those that a count calls out of the unseen.
func (c *chain) call(n int, parts *[chainBins]levels, calls *levels) {
	r, into := c.looks[n].call, 0
	if r.waits > n {
		into = waiting
	}
	var seen [chainBins]levels
	for b := range waiting {
		for i, v := range parts[b] {
			if v == 0 {
				continue
			}
			seen[b][i] = v * calls[i]
			parts[b][i] -= seen[b][i]
		}
	}
	for b := range waiting {
		to := &parts[into]
		if b == mostRun {
			to = &parts[mostRun] // it had passed before it was called
		}
		if into == waiting || r.plan {
			for i, v := range seen[b] {
				to[i] += v
			}
			continue
		}
		r.mix.forward(&seen[b], to)
	}
}

// tell counts the weeks over the line.
func (l *look) tell(s span, m *masses) {
	if l.on < s.from || l.on > s.until {
		return
	}
	for a := range m {
		for k := range m[a] {
			parts := &m[a][k]
			var next [chainBins]levels
			next[mostRun], next[waiting] = parts[mostRun], parts[waiting]
			for b := range mostRun {
				to := l.after(s, b)
				for i, v := range parts[b] {
					over := v * l.over[i]
					next[to][i] += over
					next[0][i] += v - over
				}
			}
			*parts = next
		}
	}
}

// after is the bin of a colony that is over the line once more.
func (l *look) after(s span, bin int) int {
	if bin+1 > s.most {
		return mostRun
	}
	return bin + 1
}

// backward is the chance of passing later, by the state at each look after its
// count and before the weeks over the line are counted.
func (c *chain) backward(s span, counts called) []*masses {
	value := &masses{}
	for a := range value {
		for k := range value[a] {
			for i := range value[a][k][mostRun] {
				value[a][k][mostRun][i] = 1
			}
		}
	}
	out := make([]*masses, len(c.looks))
	n := len(c.looks)
	for i := len(c.legs) - 1; i >= 0; i-- {
		l := &c.legs[i]
		if l.look != nil {
			n--
			value = l.look.tellBack(s, value)
			out[n] = value
			value = l.look.happenBack(c.countBack(n, value, counts[n]))
		}
		value = l.backward(value)
	}
	return out
}

func (l *look) tellBack(s span, v *masses) *masses {
	if l.on < s.from || l.on > s.until {
		return v
	}
	out := *v
	for a := range v {
		for k := range v[a] {
			for b := range mostRun {
				to := l.after(s, b)
				for i, o := range l.over {
					out[a][k][b][i] = o*v[a][k][to][i] + (1-o)*v[a][k][0][i]
				}
			}
		}
	}
	return &out
}

func (l *look) happenBack(v *masses) *masses {
	if l.q == 0 {
		return v
	}
	out := *v
	for a := range v {
		for k := range v[a] {
			for b := range v[a][k] {
				mean := 0.0
				for i, w := range l.new[k] {
					mean += w * v[a][k][b][i]
				}
				for i := range out[a][k][b] {
					out[a][k][b][i] = (1-l.q)*out[a][k][b][i] + l.q*mean
				}
			}
		}
	}
	return &out
}

// onceCalled is the value of a colony that a count calls at a look, in an
// arrival and a part, that had not passed before; v is that after the count.
func (c *chain) onceCalled(n int, v *[chainBins]levels) levels {
	r := c.looks[n].call
	switch {
	case r.waits > n:
		return v[waiting]
	case r.plan:
		return v[0]
	}
	var out levels
	r.mix.back(&v[0], &out)
	return out
}

func (c *chain) countBack(n int, v *masses, calls *levels) *masses {
	due, waited := c.due[n]
	if !waited && calls == nil {
		return v
	}
	out := *v
	for a := range v {
		for k := range v[a] {
			if calls != nil {
				after := c.onceCalled(n, &v[a][k])
				for b := range mostRun { // one that has passed has passed
					for i, p := range calls {
						out[a][k][b][i] = (1-p)*v[a][k][b][i] + p*after[i]
					}
				}
			}
			if waited {
				out[a][k][waiting] = levels{}
				due.back(&v[a][k][0], &out[a][k][waiting])
			}
		}
	}
	return &out
}

func (l *leg) backward(v *masses) *masses {
	out := &masses{}
	for a := range v {
		for k := range v[a] {
			if l.spreads[a][k] == nil {
				continue
			}
			for b := range v[a][k] {
				if b == mostRun {
					out[a][k][b] = v[a][k][b] // one that has passed has passed
					continue
				}
				l.spreads[a][k].back(&v[a][k][b], &out[a][k][b])
			}
		}
		if !l.merge && l.split == nil {
			continue
		}
		var one [chainBins]levels
		for k := range out[a] {
			w := 0.0
			switch {
			case l.split != nil:
				w = l.split[k]
			case k == 0:
				w = 1
			}
			for b := range one {
				for i := range one[b] {
					one[b][i] += w * out[a][k][b][i]
				}
			}
		}
		for k := range out[a] {
			out[a][k] = one
		}
	}
	return out
}

// saves is by how much one more count at a look lowers the chance of passing:
// the states before it, what they are worth after it, and its calls on top of
// those of counts that are made then already.
func (c *chain) saves(n int, at, value *masses, already, calls *levels) float64 {
	sum := 0.0
	for a := range at {
		for k := range at[a] {
			after := c.onceCalled(n, &value[a][k])
			for b := range mostRun {
				from, worth := &at[a][k][b], &value[a][k][b]
				for i, p := range calls {
					if already != nil {
						p *= 1 - already[i]
					}
					sum += from[i] * p * (worth[i] - after[i])
				}
			}
		}
	}
	return sum
}
