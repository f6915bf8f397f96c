package count

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// listen takes the scoops in line by line until the tally ends or the input
// does, and answers after each: stop, or go on and what the next would have to
// show. A line that cannot be read is said and asked again. The answers are
// talk, and data only where text is asked for; the verdict comes after them.
func (q *tallyQuestion) listen(sh *line.Shell) error {
	answers := io.Writer(sh.Stdout)
	if sh.Format != "text" {
		answers = sh.Stderr
	}
	s, err := q.stand()
	if err != nil {
		return err
	}
	in := bufio.NewScanner(sh.In)
	for s.Says == decide.GoOn {
		fmt.Fprintf(sh.Stderr, "scoop %d, mites: ", len(q.soFar)+1)
		if !in.Scan() {
			fmt.Fprintln(sh.Stderr)
			break
		}
		text := strings.TrimSpace(in.Text())
		if text == "" {
			continue
		}
		scoop, err := q.parseScoop(text)
		if err != nil {
			fmt.Fprintln(sh.Stderr, "halfcup: "+show.Marked(plainly(err)))
			continue
		}
		q.soFar = append(q.soFar, scoop)
		if s, err = q.stand(); err != nil {
			q.soFar = q.soFar[:len(q.soFar)-1]
			var bad *sampling.ValueError
			if !errors.As(err, &bad) {
				return err
			}
			fmt.Fprintln(sh.Stderr, "halfcup: "+show.Marked(plainly(err)))
			if s, err = q.stand(); err != nil {
				return err
			}
			continue
		}
		if s.Says == decide.GoOn {
			fmt.Fprintln(answers, soFarWords(s), next(s))
		}
	}
	return in.Err()
}

// parseScoop reads one scoop: BEES:MITES, or its mites alone when it held what
// it should.
func (q *tallyQuestion) parseScoop(text string) (decide.Scoop, error) {
	if !strings.Contains(text, ":") {
		text = fmt.Sprintf("%d:%s", q.Scoop, text)
	}
	scoops, err := parseScoops(text)
	if err != nil {
		return decide.Scoop{}, err
	}
	if len(scoops) != 1 {
		return decide.Scoop{}, &sampling.SyntaxError{Input: text, Length: len(text), Problem: "this is more than one scoop", Remedy: "write one scoop a line, such as 100:2 or 2"}
	}
	return scoops[0], nil
}

// plainly is an error on one line: what is wrong and how to mend it.
func plainly(err error) string {
	var syntax *sampling.SyntaxError
	var value *sampling.ValueError
	switch {
	case errors.As(err, &syntax):
		return fmt.Sprintf("%q: %s; %s", syntax.Input, syntax.Problem, syntax.Remedy)
	case errors.As(err, &value):
		return fmt.Sprintf("%s: %s; %s", value.Name, value.Problem, value.Remedy)
	}
	return err.Error()
}
