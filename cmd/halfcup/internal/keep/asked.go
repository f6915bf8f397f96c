package keep

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
)

// asked asks for the mites of every hive, in the order of their stands. The
// questions go to stderr, so that stdout holds the answer alone.
func (a *addition) asked() error {
	hives := a.living()
	if len(hives) == 0 {
		return &show.Problem{What: "the record has no living colony here to ask about", Remedy: "write the first counts with their names: " + addExample + " --new"}
	}
	what := say.Capital(a.method.Title())
	if a.common.Yard != "" {
		what = a.common.Yard + ", " + a.method.Title()
	}
	fmt.Fprintf(a.sh.Stderr, "%s. Enter alone: not counted. -: back. A point: the end.\n", what)
	said := make([]*fieldlog.Event, len(hives))
	in := bufio.NewReader(io.LimitReader(a.sh.In, 1<<20))
	i, over := 0, false
	for i < len(hives) && !over {
		fmt.Fprintf(a.sh.Stderr, "%s: ", hives[i].Name)
		text, err := in.ReadString('\n')
		if err != nil && err != io.EOF {
			return err
		}
		if over = err == io.EOF; over {
			fmt.Fprintln(a.sh.Stderr)
		}
		switch text = strings.TrimSpace(text); text {
		case "":
			said[i] = nil
			i++
		case "-":
			i = max(0, i-1)
		case ".":
			over = true
		default:
			e, err := a.count(hives[i], text)
			if err != nil {
				fmt.Fprintf(a.sh.Stderr, "  %v\n", err)
				continue
			}
			said[i] = &e
			i++
		}
	}
	for i, e := range said {
		if e == nil {
			a.skipped = append(a.skipped, hives[i].Name)
		} else if err := a.add(hives[i], *e); err != nil {
			return err
		}
	}
	if len(a.events) == 0 {
		return line.TooFew("no hive was counted, and nothing was written", addExample)
	}
	return nil
}
