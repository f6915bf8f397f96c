package line

import (
	"strings"

	"halfcup/sampling"
)

// asCounts reads words as a line that begins with a count, which may stand in
// several words, and gives the line with every count in one.
func asCounts(words []string) ([]string, bool) {
	var out []string
	for i := 0; i < len(words); {
		count, n := countOf(words[i:])
		if n == 0 {
			if i == 0 {
				return nil, false
			}
			count, n = words[i], 1
		}
		out = append(out, count)
		i += n
	}
	return out, len(out) > 0
}

// countOf finds the count that words begin with, and in how many words it is
// written: roll:7/300, roll 7 300, sugar roll 7/300. It finds none, 0 words, when
// they do not begin with one that can be read.
func countOf(words []string) (count string, n int) {
	if strings.Contains(words[0], ":") {
		_, err := sampling.ParseCount(words[0])
		return words[0], oneIf(err == nil)
	}
	for named := min(3, len(words)-1); named > 0; named-- {
		if next := words[named]; next == "" || next[0] < '0' || next[0] > '9' {
			continue
		}
		m, err := sampling.ParseMethod(strings.Join(words[:named], " "))
		if err != nil {
			continue
		}
		for last := min(named+3, len(words)); last > named; last-- {
			count := string(m) + ":" + strings.Join(words[named:last], "/")
			if _, err := sampling.ParseCount(count); err == nil {
				return count, last
			}
		}
	}
	return "", 0
}

func oneIf(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// wholeCounts refuses a count that stands in several words, and gives the whole
// line with it in one.
func (s *sorter) wholeCounts() error {
	if s.out.Help || len(s.out.Path) == 0 || !takesCounts(s.out.Path[len(s.out.Path)-1]) {
		return nil
	}
	for i := range s.args {
		count, n := countOf(s.args[i:])
		if n < 2 {
			continue
		}
		length := len(strings.Join(s.args[i:i+n], " "))
		rest := s.args[i+n:]
		if all, ok := asCounts(s.args[i:]); ok {
			count, rest = all[0], all[1:]
		}
		return s.fail(i, 0, length, "a count is one word", "write "+joined(s.args[:i], []string{count}, rest))
	}
	return nil
}

// joined is a line that can be copied to a shell.
func joined(parts ...[]string) string {
	line := []string{"halfcup"}
	for _, words := range parts {
		for _, w := range words {
			if w == "" || strings.ContainsAny(w, " \t'\"$&|;<>()*?`\\") {
				w = "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
			}
			line = append(line, w)
		}
	}
	return strings.Join(line, " ")
}
