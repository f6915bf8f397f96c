package decide

// pool puts the colonies together.
func (a Apiary) pool(o *observed) error {
	o.together = append([]State(nil), o.alone...)
	o.pooled = make([]bool, len(o.alone))
	return nil
}

func (s Situation) clashes() bool { return false }

func (s Situation) inGeneral() bool { return false }
