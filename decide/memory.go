package decide

import (
	"fmt"
	"reflect"
	"sync"

	"halfcup/sampling"
)

// Memory keeps what replays of an apiary's colonies came to, for whoever asks
// about the same apiary again after something was written down of one of its
// colonies: the others are not replayed. It changes no answer. The zero value is an empty one.
type Memory struct {
	mu    sync.Mutex
	known map[memoryKey]pastReplay
}

type memoryKey struct {
	colony string
	day    sampling.Date
}

type pastReplay struct {
	of    History
	state State
}

// mostRemembered is how many replays are kept: two days of the largest yard that
// the page makes at once. When there are more, all are forgotten.
const mostRemembered = 600

// on is what History.On gives for a colony of a name. A replay counts as the
// same only when nothing at all in the history differs. A nil Memory keeps
// nothing.
func (m *Memory) on(colony string, h History, day sampling.Date) (State, error) {
	if m == nil {
		return h.On(day)
	}
	key := memoryKey{colony, day}
	m.mu.Lock()
	before, ok := m.known[key]
	m.mu.Unlock()
	if ok && reflect.DeepEqual(before.of, h) {
		return before.state, nil
	}
	s, err := h.On(day)
	if err != nil {
		return s, err
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.known == nil || len(m.known) >= mostRemembered {
		m.known = map[memoryKey]pastReplay{}
	}
	kept := s
	if s.morning != nil { // its eve is the most of a replay, and soon made again
		morning := *s.morning
		morning.eve = nil
		kept.morning = &morning
	}
	m.known[key] = pastReplay{h, kept}
	return s, nil
}

// Prepare replays one colony as On needs it for a day, and leaves that in the
// apiary's Memory, so that a large yard can be worked out in pieces. Errors are
// those of On.
func (a Apiary) Prepare(colony int, day sampling.Date) error {
	if colony < 0 || colony >= len(a.Colonies) {
		return &sampling.ValueError{Name: "colony", Problem: fmt.Sprintf("there is no place %d", colony), Remedy: "give its place in Colonies"}
	}
	last := a.lastRecorded(day)
	if c := a.Colonies[colony]; c.Lives(last) {
		if _, err := a.replay(colony, last, nil); err != nil {
			return a.failed(colony, err)
		}
	}
	return nil
}

// lastRecorded is the last day, up to a given one, of which something was
// written down about any colony, that day itself when nothing was.
func (a Apiary) lastRecorded(day sampling.Date) sampling.Date {
	last := sampling.Date(0)
	for _, c := range a.Colonies {
		last = max(last, c.recorded(day))
	}
	if last.IsZero() {
		return day
	}
	return last
}
