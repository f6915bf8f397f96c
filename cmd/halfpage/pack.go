package main

import "math/bits"

// pack writes data as a stream of LZMA without its header, with three bits of
// the byte before as the context of a literal and none of the place (the
// specification and its reference are in the public domain,
// https://7-zip.org/sdk.html). The engine comes to a quarter less than deflated.
// Its reader is page/unpack.js.
func pack(data []byte) []byte {
	p := packer{data: data, width: 1<<32 - 1, pending: 1, model: newModel(), chain: newChain(data)}
	for p.at < len(data) {
		p.next()
	}
	for range 5 {
		p.shift()
	}
	return p.out
}

// A chance is that of the next bit being 0, in 2048ths.
type chance = uint16

const (
	chanceBits = 11
	even       = 1 << (chanceBits - 1)
	slowness   = 5
)

// model is what is learnt of the stream as it is written.
type model struct {
	match, again, first, second, third, one [12]chance
	literals                                [8][0x300]chance
	slots                                   [4][64]chance
	far                                     [128]chance
	low                                     [16]chance
	ofMatch, ofAgain                        lengths
}

// lengths is the model of the length of a match.
type lengths struct {
	choice        [2]chance
	short, middle [8]chance
	long          [256]chance
}

func newModel() *model {
	m := &model{}
	fill := func(of []chance) {
		for i := range of {
			of[i] = even
		}
	}
	for _, of := range [][]chance{m.match[:], m.again[:], m.first[:], m.second[:], m.third[:], m.one[:], m.far[:], m.low[:]} {
		fill(of)
	}
	for i := range m.literals {
		fill(m.literals[i][:])
	}
	for i := range m.slots {
		fill(m.slots[i][:])
	}
	for _, l := range []*lengths{&m.ofMatch, &m.ofAgain} {
		fill(l.choice[:])
		fill(l.short[:])
		fill(l.middle[:])
		fill(l.long[:])
	}
	return m
}

type packer struct {
	data []byte
	at   int
	*model
	chain *chain
	state int    // what the last few steps were
	last  [4]int // how far back the last matches were

	// The range coder.
	out     []byte
	low64   uint64
	width   uint32
	held    byte
	pending int // bytes that a carry may still change
}

// shift moves the highest byte of the range out.
func (p *packer) shift() {
	if p.low64 < 0xff000000 || p.low64 > 0xffffffff {
		carry := byte(p.low64 >> 32)
		for ; p.pending > 0; p.pending-- {
			p.out = append(p.out, p.held+carry)
			p.held = 0xff
		}
		p.held = byte(p.low64 >> 24)
	}
	p.pending++
	p.low64 = p.low64 & 0x00ffffff << 8
}

func (p *packer) bit(c *chance, bit int) {
	bound := p.width >> chanceBits * uint32(*c)
	if bit == 0 {
		p.width = bound
		*c += (1<<chanceBits - *c) >> slowness
	} else {
		p.low64 += uint64(bound)
		p.width -= bound
		*c -= *c >> slowness
	}
	for p.width < 1<<24 {
		p.width <<= 8
		p.shift()
	}
}

// tree writes the bits of a number, the highest first.
func (p *packer) tree(of []chance, v, width int) {
	m := 1
	for i := width - 1; i >= 0; i-- {
		b := v >> i & 1
		p.bit(&of[m], b)
		m = m<<1 | b
	}
}

// back writes the bits of a number, the lowest first; from is where the node 0
// of the tree is.
func (p *packer) back(of []chance, from, v, width int) {
	m := 1
	for range width {
		p.bit(&of[from+m], v&1)
		m = m<<1 | v&1
		v >>= 1
	}
}

// plain writes bits of which nothing is known.
func (p *packer) plain(v, width int) {
	for i := width - 1; i >= 0; i-- {
		p.width >>= 1
		if v>>i&1 == 1 {
			p.low64 += uint64(p.width)
		}
		for p.width < 1<<24 {
			p.width <<= 8
			p.shift()
		}
	}
}

func (p *packer) length(l *lengths, n int) {
	switch n -= 2; {
	case n < 8:
		p.bit(&l.choice[0], 0)
		p.tree(l.short[:], n, 3)
	case n < 16:
		p.bit(&l.choice[0], 1)
		p.bit(&l.choice[1], 0)
		p.tree(l.middle[:], n-8, 3)
	default:
		p.bit(&l.choice[0], 1)
		p.bit(&l.choice[1], 1)
		p.tree(l.long[:], n-16, 8)
	}
}

// next writes one literal or match: the longest, unless the one from the next
// byte on is longer or one of the last distances does almost as well.
func (p *packer) next() {
	again, which := p.longestAgain(p.at)
	n, far := p.chain.longest(p.at)
	if again >= 2 && (again+1 >= n || again+2 >= n && far >= 1<<9 || again+3 >= n && far >= 1<<15) {
		p.repeat(which, again)
		return
	}
	if n < mostLength && p.at+1 < len(p.data) {
		later, laterFar := p.chain.longest(p.at + 1)
		laterAgain, _ := p.longestAgain(p.at + 1)
		if n >= 2 && (later > n+1 || later == n+1 && laterFar>>7 <= far || laterAgain >= 2 && laterAgain+1 >= n) {
			n = 0
		}
	}
	switch {
	case n >= 2:
		p.copied(far, n)
	case p.at > p.last[0] && p.data[p.at] == p.data[p.at-p.last[0]-1] && p.state >= 7:
		p.bit(&p.match[p.state], 1)
		p.bit(&p.again[p.state], 1)
		p.bit(&p.first[p.state], 0)
		p.bit(&p.one[p.state], 0)
		p.state = after(p.state, 9)
		p.at++
	default:
		p.literal()
	}
}

// after is the state that follows a match.
func after(state, next int) int {
	switch {
	case state < 7:
		return next
	case next == 7:
		return 10
	}
	return 11
}

func (p *packer) literal() {
	p.bit(&p.match[p.state], 0)
	before := byte(0)
	if p.at > 0 {
		before = p.data[p.at-1]
	}
	of, v, m := p.literals[before>>5][:], int(p.data[p.at]), 1
	i := 7
	if p.state >= 7 { // what a match would have given is most likely not it
		other := int(p.data[p.at-p.last[0]-1])
		for ; i >= 0; i-- {
			o, b := other>>i&1, v>>i&1
			p.bit(&of[(1+o)<<8+m], b)
			m = m<<1 | b
			if o != b {
				i--
				break
			}
		}
	}
	for ; i >= 0; i-- {
		b := v >> i & 1
		p.bit(&of[m], b)
		m = m<<1 | b
	}
	switch {
	case p.state < 4:
		p.state = 0
	case p.state < 10:
		p.state -= 3
	default:
		p.state -= 6
	}
	p.at++
}

// repeat writes a match at one of the last distances.
func (p *packer) repeat(which, n int) {
	p.bit(&p.match[p.state], 1)
	p.bit(&p.again[p.state], 1)
	if which == 0 {
		p.bit(&p.first[p.state], 0)
		p.bit(&p.one[p.state], 1)
	} else {
		p.bit(&p.first[p.state], 1)
		p.bit(&p.second[p.state], min(which-1, 1))
		if which > 1 {
			p.bit(&p.third[p.state], which-2)
		}
		far := p.last[which]
		copy(p.last[1:], p.last[:which])
		p.last[0] = far
	}
	p.length(&p.ofAgain, n)
	p.state = after(p.state, 8)
	p.at += n
}

// copied writes a match at a new distance.
func (p *packer) copied(far, n int) {
	p.bit(&p.match[p.state], 1)
	p.bit(&p.again[p.state], 0)
	p.length(&p.ofMatch, n)
	slot, width := far, 0
	if far >= 4 {
		width = bits.Len(uint(far)) - 2
		slot = 2*(width+1) + far>>width&1
	}
	p.tree(p.slots[min(n-2, 3)][:], slot, 6)
	if rest := far - (2|slot&1)<<width; slot >= 14 {
		p.plain(rest>>4, width-4)
		p.back(p.low[:], 0, rest&15, 4)
	} else if slot >= 4 {
		p.back(p.far[:], far-rest-slot, rest, width)
	}
	p.last = [4]int{far, p.last[0], p.last[1], p.last[2]}
	p.state = after(p.state, 7)
	p.at += n
}

const mostLength = 273

// longestAgain is the longest match at one of the last distances.
func (p *packer) longestAgain(at int) (n, which int) {
	for i, far := range p.last {
		if at > far {
			if m := same(p.data, at-far-1, at); m > n {
				n, which = m, i
			}
		}
	}
	return n, which
}

// same is how many bytes from two places on are the same.
func same(data []byte, a, b int) int {
	n := 0
	for b+n < len(data) && n < mostLength && data[a+n] == data[b+n] {
		n++
	}
	return n
}

// chain finds where bytes stood before: of every place, the last one before it
// at which the same three bytes stand.
type chain struct {
	data   []byte
	before []int32
	heads  []int32
	until  int // places before it are in the chains
}

const (
	chainBits = 18
	mostSteps = 96 // back along a chain
)

func newChain(data []byte) *chain {
	c := &chain{data: data, before: make([]int32, len(data)), heads: make([]int32, 1<<chainBits)}
	for i := range c.heads {
		c.heads[i] = -1
	}
	return c
}

// longest is the longest match from a place on, and how far back it is. Matches
// so short and so far back that literals are shorter are none.
func (c *chain) longest(at int) (n, far int) {
	if at+3 > len(c.data) {
		return 0, 0
	}
	for ; c.until <= at; c.until++ {
		if c.until+3 > len(c.data) {
			break
		}
		h := c.hash(c.until)
		c.before[c.until], c.heads[h] = c.heads[h], int32(c.until)
	}
	from := c.before[at]
	for step := 0; from >= 0 && step < mostSteps && n < mostLength; step++ {
		if n == 0 || at+n < len(c.data) && c.data[int(from)+n] == c.data[at+n] {
			back := at - int(from) - 1
			if m := same(c.data, int(from), at); m > n && (m > 3 || m == 3 && back < 1<<12) && (m > 4 || back < 1<<19) {
				n, far = m, back
			}
		}
		from = c.before[from]
	}
	return n, far
}

func (c *chain) hash(at int) uint32 {
	return (uint32(c.data[at]) | uint32(c.data[at+1])<<8 | uint32(c.data[at+2])<<16) * 2654435761 >> (32 - chainBits)
}
