package sampling

// Outlook is a count that could be made of many colonies in turn. What it could
// show is the same for all of them, and is kept; a Prospect is of one colony, and
// knows what a count shares with others of its day. It is not safe for
// concurrent use.
type Outlook struct {
	a     Assumptions
	count Count
	shown []Likelihood // of each number of mites
	rows  [3][]float64 // room to work in
}

// Outlook prepares for a count like c; its mites do not matter.
func (a Assumptions) Outlook(c Count) *Outlook { return &Outlook{a: a, count: c} }

// Outcomes walks through the possible counts 0, 1, 2, … of a colony of which
// known is known, and of whose day no count shares a factor with this one. For
// each it calls visit with the count's chance and, for two functions of θ by
// their values at Nodes, the chance times their mean given that count. It stops
// when visit says so. The error is a *ValueError.
func (o *Outlook) Outcomes(known Density, f, g []float64, visit func(mites int, chance, f, g float64) bool) error {
	first, last := support(known.p)
	n := last - first + 1
	for j := range o.rows {
		if cap(o.rows[j]) < n {
			o.rows[j] = make([]float64, gridNodes)
		}
		o.rows[j] = o.rows[j][:n]
	}
	p, pf, pg := o.rows[0], o.rows[1], o.rows[2]
	for i := range p {
		p[i] = known.p[first+i] * gridStep
		pf[i], pg[i] = p[i]*f[first+i], p[i]*g[first+i]
	}
	for mites := 0; ; mites++ {
		if mites == len(o.shown) {
			c := o.count
			c.Mites = mites
			l, err := o.a.Likelihood(c)
			if err != nil {
				return err
			}
			o.shown = append(o.shown, l)
		}
		l := o.shown[mites].l[first : last+1]
		if !visit(mites, dot(l, p), dot(l, pf), dot(l, pg)) {
			return nil
		}
	}
}
