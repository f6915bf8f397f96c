package keep

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/signal"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/out"
	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

func batchCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "batch",
		Category:  line.GroupChecking,
		Usage:     "read a table of counts, row by row, and add what each says",
		ArgsUsage: "IN [OUT]",
		UsageText: "halfcup batch survey.csv survey-read.csv --method wash",
		Description: "Reads a CSV table with a column for the mites and one for the bees of every count, and writes it again with what each count says added to its row: the bare interval, the estimate, the chances of being over the lines, and the call. " +
			"Every row is a colony of its own. Columns named method, mites, bees, frames and date are found by themselves; --column names others, and stderr says which were taken. How and on which day the mites were counted is never guessed: a table without such a column needs --method or --date. " +
			"The bees may also be a volume (0.5cup) or, for a board, its days (3d); columns grams_per_100, adult_bees and brood tell of weighed bees and of boards. Dates are read as in the record: the order of numbers between strokes is that which a day over 12 in the column settles, or date_order in the settings; of what comes through a pipe only the settings say it. Where a cell is empty, NA or NaN, the row is kept and its answers are empty. The answers stand in columns that begin with hc_, and those of an earlier run are written anew: per_hundred, interval_low and interval_high are the bare count and its limits; median, mean, low and high what is known of the colony; watch and act its lines; all in mites per hundred bees. chance_over_watch and chance_over_act go from 0 to 1; call is what to do. " +
			"Between semicolons, where the comma is the decimal sign, the answers have decimal commas. - stands for stdin or stdout. With --format json every row is one line of JSON. Rows that cannot be read are told, never dropped in silence, and end in exit 3.",
		Flags: slices.Concat([]cli.Flag{
			&cli.StringSliceFlag{Name: "column", Usage: "the column of a figure, as `FIGURE=NAME`, such as mites=varroa; FIGURE=- for none; may be repeated"},
			&cli.StringFlag{Name: "method", Usage: "the `METHOD` of rows without one"},
			&cli.StringFlag{Name: "date", Usage: "the `DAY` of rows without one"},
			&cli.StringFlag{Name: "grams-per-100", Usage: "weight of 100 bees in rows of weighed bees without one, as wet as they were, `GRAMS`"},
			&cli.StringFlag{Name: "brood", Usage: "whether there is capped brood in rows of boards that do not say `yes|no`", DefaultText: "by the season"},
			&cli.StringFlag{Name: "adult-bees", Usage: "adult bees of the colony in rows of boards without them, `BEES`", DefaultText: "by the season"},
			&cli.StringFlag{Name: "digits", Usage: "write so many figures of a number, `N`; all when it is not given"},
			&cli.StringFlag{Name: "rejects", Usage: "write the rows that cannot be read into `FILE`, a CSV table"},
			&cli.BoolFlag{Name: "strict", Usage: "stop at the first row that cannot be read"},
			&cli.BoolFlag{Name: "no-call", Usage: "leave out the call, which takes longest"},
			&cli.StringFlag{Name: "level", Value: "0.9", Usage: "level of the limits, `LEVEL`"},
			&cli.StringFlag{Name: "interval", Value: "garwood", Usage: "interval of the bare count `garwood|clopper-pearson|wilson|jeffreys|mid-p`"},
		}, ask.RulesFlags()),
		Action: func(c *cli.Context) error { return runBatch(sh, c) },
	}
}

func runBatch(sh *line.Shell, c *cli.Context) error {
	if sh.Explain {
		return &show.Problem{What: "this command has nothing to explain", Remedy: "leave out --explain; halfcup estimate explains one count"}
	}
	r, err := newBatchReader(sh, c)
	if err != nil {
		return err
	}
	if c.NArg() < 1 || c.NArg() > 2 {
		return line.TooFew("batch needs the name of a table, and may be given that of another to write", "halfcup batch survey.csv survey-read.csv --method wash")
	}
	b := &batch{reader: r, name: c.Args().Get(0), in: sh.In, out: sh.Stdout, stderr: sh.Stderr, strict: c.Bool("strict"), json: sh.Format == "json"}
	if b.name == "-" {
		b.name = "stdin"
	} else {
		f, err := os.Open(b.name)
		if err != nil {
			return err
		}
		defer f.Close()
		b.in = f
	}
	if b.columns, err = columnNames(c); err != nil {
		return err
	}
	if in, ok := b.in.(*os.File); ok {
		sh.Files.ReadsFrom("the table that is read", in)
	}
	// Before any file is begun: what an interrupt leaves is taken away again.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if name := c.Args().Get(1); name != "" && name != "-" {
		endings := []string{".csv", ".txt", ""}
		if b.json {
			endings = []string{".json", ".jsonl", ".ndjson", ""}
		}
		if b.file, err = sh.Files.Create(name, endings...); err != nil {
			return err
		}
		defer b.file.Discard()
		b.out = b.file
	}
	if name := c.String("rejects"); c.IsSet("rejects") {
		if b.rejectsFile, err = sh.Files.Create(name, ".csv", ".txt", ""); err != nil {
			return err
		}
		defer b.rejectsFile.Discard()
		b.rejects = new(show.NewCSVWriter(b.rejectsFile))
	}
	if f, ok := sh.Stderr.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		b.progress = f
	}
	return b.run(ctx)
}

// The figures of a row, in the order of its notation.
const (
	figureMethod = iota
	figureMites
	figureBees
	figureFrames
	figureDate
	figureGrams // from here on what few tables have
	figureAdultBees
	figureBrood
	figures
)

var figureNames = [figures]string{"method", "mites", "bees", "frames", "date", "grams_per_100", "adult_bees", "brood"}

// columnNames is the column each figure is looked for in; "-" is none.
func columnNames(c *cli.Context) (names [figures]string, err error) {
	names = figureNames
	for _, s := range c.StringSlice("column") {
		figure, name, found := strings.Cut(s, "=")
		i := slices.Index(figureNames[:], figure)
		if !found || name == "" || i < 0 {
			remedy := "write it like mites=varroa; the figures are " + strings.Join(figureNames[:], ", ")
			if found && name != "" {
				remedy = meant.Question(figure, figureNames[:], "") + remedy
			}
			return names, line.BadValue("column", s, "this names no column of a figure", remedy)
		}
		names[i] = name
	}
	return names, nil
}

// batch is one run over a table.
type batch struct {
	reader   *batchReader
	name     string // of what is read, for errors
	in       io.Reader
	out      io.Writer
	stderr   io.Writer
	progress io.Writer // nil when nobody watches

	file, rejectsFile *out.File // nil when they are not asked for

	rejects *show.CSVWriter
	strict  bool
	json    bool
	columns [figures]string

	sep      byte
	own      []bool // columns of the head that an earlier run wrote
	head     []string
	at       [figures]int // the column of each figure, -1 for none
	rows     int          // written
	rejected int
	missing  int // written without an answer
	kinds    map[string]*faultKind
}

// faultKind is how many rows have faults that differ only in what stands there.
type faultKind struct {
	example *show.Problem
	rows    int
}

const (
	chunkRows = 1024
	showKinds = 20 // of faults, told on stderr
)

// row is one row of the table.
type row struct {
	rows.Placed
	fault *show.Problem // found while it was split
}

// chunk is some rows, and what becomes of them.
type chunk struct {
	rows    []row
	text    []byte
	faults  []fault
	missing int
	done    chan struct{}
}

// fault is a row that could not be read, before text[at].
type fault struct {
	problem *show.Problem
	row     *row
	at      int
	before  int // good rows of the chunk before it
}

// cells are those of the row, or all that stands there when it could not be
// split.
func (f fault) cells() []string {
	if f.row.Fault != rows.Whole {
		return []string{f.row.Raw}
	}
	return texts(f.row.Cells)
}

func texts(cells []rows.Cell) []string {
	out := make([]string, len(cells))
	for i, c := range cells {
		out[i] = c.Text
	}
	return out
}

// run pipes the table through: one goroutine splits it, as many as there are
// processors read the counts, and this one writes in order. Whatever ends it
// early, what was written are whole rows.
func (b *batch) run(ctx context.Context) error {
	table := rows.NewReader(b.in, ',')
	if err := b.readHead(table); err != nil {
		return err
	}
	if err := b.settleOrder(table.Rules); err != nil {
		return err
	}
	if !b.json {
		if table.Mark() {
			if _, err := io.WriteString(b.out, "\ufeff"); err != nil {
				return b.unwritten(err)
			}
		}
		if _, err := b.out.Write(b.headLine()); err != nil {
			return b.unwritten(err)
		}
	}
	b.tellColumns()
	if b.rejects != nil {
		b.rejects.Between(b.sep) // for the spreadsheet that the table is from
		if err := b.rejects.Write(append([]string{"line", "column", "problem", "remedy"}, b.head...)...); err != nil {
			return err
		}
	}
	stop, cancel := context.WithCancel(ctx)
	defer cancel()
	order := b.start(stop, table)
	tick := time.NewTicker(500 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case c, more := <-order:
			if !more {
				return b.finish(b.interrupted(ctx))
			}
			<-c.done
			if err := b.put(c); err != nil {
				return b.finish(err)
			}
		case <-tick.C:
			if b.progress != nil {
				fmt.Fprintf(b.progress, "\r%d rows", b.rows)
			}
		case <-ctx.Done():
			return b.finish(b.interrupted(ctx))
		}
	}
}

// settleOrder finds the order of the dates in the whole column, as the record
// does, where nothing said it. A pipe can be read only once, and the rows in
// front of the one that settles it are gone by then.
func (b *batch) settleOrder(like rows.Rules) error {
	in, isFile := b.in.(*os.File)
	if b.at[figureDate] < 0 || b.reader.order != "" || !isFile {
		return nil
	}
	if info, err := in.Stat(); err != nil || !info.Mode().IsRegular() || b.name == "stdin" {
		return err
	}
	f, err := os.Open(b.name)
	if err != nil {
		return err
	}
	defer f.Close()
	table := rows.NewReader(f, like.Sep)
	if _, err := table.Next(nil); err != nil { // the head
		return err
	}
	table.Rules = like
	var failed error
	b.reader.order = fieldlog.Settled(func(yield func(string) bool) {
		var cells []rows.Cell
		for {
			r, err := table.Next(cells[:0])
			if err != nil {
				if !errors.Is(err, io.EOF) {
					failed = err
				}
				return
			}
			cells = r.Cells
			if r.Fault == rows.Whole && len(r.Cells) == len(b.head) && !yield(strings.TrimSpace(r.Cells[b.at[figureDate]].Text)) {
				return
			}
		}
	})
	return failed
}

// interrupted is nil unless the user has had enough. The table can come to its
// end in the same moment, or seem to: who interrupts is told so in any case.
func (b *batch) interrupted(ctx context.Context) error {
	switch {
	case ctx.Err() == nil:
		return nil
	case b.file != nil:
		return fmt.Errorf("interrupted after %s; nothing was written to the file", show.Many(b.rows, "row", "rows"))
	}
	return fmt.Errorf("interrupted after %s, all of them whole", show.Many(b.rows, "row", "rows"))
}

// put writes a chunk and tells its faults.
func (b *batch) put(c *chunk) error {
	text, good := c.text, len(c.rows)-len(c.faults)
	if b.strict && len(c.faults) > 0 {
		text, good = text[:c.faults[0].at], c.faults[0].before
	}
	if _, err := b.out.Write(text); err != nil {
		return b.unwritten(err)
	}
	b.rows += good
	b.missing += c.missing
	for _, f := range c.faults {
		b.rejected++
		if b.rejects != nil {
			p, column := f.problem, ""
			if p.Column > 0 {
				column = fmt.Sprint(p.Column)
			}
			if err := b.rejects.Write(append([]string{fmt.Sprint(p.Line), column, p.What, p.Remedy}, f.cells()...)...); err != nil {
				return err
			}
		}
		b.note(f.problem)
		if b.strict {
			return errStrict
		}
	}
	return nil
}

// varying are the parts of a message in which faults of one kind differ.
var varying = regexp.MustCompile(`"[^"]*"|[0-9]+|January|February|March|April|May|June|July|August|September|October|November|December`)

// note counts a fault with those of its kind.
func (b *batch) note(p *show.Problem) {
	if b.kinds == nil {
		b.kinds = map[string]*faultKind{}
	}
	kind := varying.ReplaceAllString(p.What, "#")
	if b.kinds[kind] == nil {
		if len(b.kinds) == showKinds {
			return
		}
		b.kinds[kind] = &faultKind{example: p}
	}
	b.kinds[kind].rows++
}

// tellFaults tells every kind of fault with its first row and its number.
func (b *batch) tellFaults() {
	kinds := slices.SortedFunc(maps.Values(b.kinds), func(x, y *faultKind) int { return cmp.Compare(x.example.Line, y.example.Line) })
	told := 0
	for _, k := range kinds {
		fmt.Fprint(b.stderr, k.example.Layout("halfcup: error: "))
		if k.rows > 1 {
			fmt.Fprintf(b.stderr, "so are %s in all\n", show.Many(k.rows, "row", "rows"))
		}
		told += k.rows
	}
	if more := b.rejected - told; more > 0 {
		fmt.Fprintf(b.stderr, "halfcup: error: %s of other kinds; --rejects FILE keeps them all\n", show.Many(more, "more row", "more rows"))
	}
}

// tellColumns says where each figure comes from.
func (b *batch) tellColumns() {
	var from []string
	for i, name := range figureNames {
		switch {
		case b.at[i] >= 0:
			column := fmt.Sprintf("%s from the column %q", name, strings.TrimSpace(b.head[b.at[i]]))
			if i == figureDate && b.reader.order != "" {
				column += " (" + b.reader.order.Words() + ")"
			}
			from = append(from, column)
		case i == figureMethod:
			from = append(from, "method "+b.reader.method)
		case i == figureDate:
			from = append(from, "date "+b.reader.date)
		case i == figureGrams && b.reader.grams > 0:
			from = append(from, fmt.Sprintf("%s %v", name, b.reader.grams))
		case i == figureAdultBees && b.reader.adultBees > 0:
			from = append(from, fmt.Sprintf("%s %v", name, b.reader.adultBees))
		case i == figureBrood && b.reader.brood != "":
			from = append(from, name+" "+b.reader.brood)
		case i >= figureGrams:
		default:
			from = append(from, "no "+name)
		}
	}
	if b.sep == ';' && !b.json {
		from = append(from, "decimal commas as between semicolons")
	}
	fmt.Fprintf(b.stderr, "halfcup: %s: %s\n", b.name, show.Marked(strings.Join(from, ", ")))
}

// unwritten is an error of the output; that of a file tells its name.
func (b *batch) unwritten(err error) error {
	if b.file != nil {
		return err
	}
	return line.WriteError(err)
}

var errStrict = errors.New("strict")

func (b *batch) clearProgress() {
	if b.progress != nil {
		fmt.Fprint(b.progress, "\r\x1b[K")
	}
}

// finish says how it ended.
func (b *batch) finish(err error) error {
	b.clearProgress()
	if b.rejects != nil {
		if e := b.rejects.Flush(); e != nil && err == nil {
			err = e
		}
	}
	for _, f := range []*out.File{b.file, b.rejectsFile} {
		if f != nil && err == nil {
			err = f.Commit()
		}
	}
	b.tellFaults()
	if b.missing > 0 {
		fmt.Fprintf(b.stderr, "halfcup: %s without an answer, because a figure is missing\n", show.Many(b.missing, "row is", "rows are"))
	}
	switch {
	case errors.Is(err, errStrict) && b.file != nil:
		return &show.Problem{File: b.name, What: fmt.Sprintf("stopped at the first row that cannot be read, behind %s; nothing was written to the file", show.Many(b.rows, "good row", "good rows")), Remedy: "mend it, or leave out --strict to go on past such rows"}
	case errors.Is(err, errStrict):
		return &show.Problem{File: b.name, What: fmt.Sprintf("stopped at the first row that cannot be read, after %s", show.Many(b.rows, "row", "rows")), Remedy: "mend it, or leave out --strict to go on past such rows"}
	case err != nil || b.rejected == 0:
		return err
	}
	remedy := "mend them and run those again; all others are written"
	if b.rejects == nil {
		remedy += ". --rejects FILE keeps them"
	}
	return &show.Problem{File: b.name, What: show.Many(b.rejected, "row could not be read and is", "rows could not be read and are") + " not written", Remedy: remedy}
}

// start splits the table and has its chunks read. They come in order, and hold
// their answer when done is closed.
func (b *batch) start(ctx context.Context, table *rows.Reader) <-chan *chunk {
	workers := b.reader.workers
	work := make(chan *chunk, workers)
	order := make(chan *chunk, 2*workers)
	for range workers {
		go func() {
			w := b.reader.worker()
			for c := range work {
				for i := range c.rows {
					b.read(w, c, i)
				}
				close(c.done)
			}
		}()
	}
	go func() {
		defer close(work)
		defer close(order)
		for {
			c, last := b.split(ctx, table)
			if len(c.rows) > 0 {
				select {
				case order <- c:
				case <-ctx.Done():
					return
				}
				work <- c
			}
			if last || ctx.Err() != nil {
				return
			}
		}
	}()
	return order
}

// split takes the next rows off the table.
func (b *batch) split(ctx context.Context, table *rows.Reader) (c *chunk, last bool) {
	c = &chunk{rows: make([]row, 0, chunkRows), done: make(chan struct{})}
	cells := make([]rows.Cell, 0, chunkRows*(len(b.head)+1))
	for len(c.rows) < chunkRows {
		placed, err := table.Next(cells[len(cells):])
		if errors.Is(err, io.EOF) || ctx.Err() != nil {
			return c, true
		}
		if err != nil {
			c.rows = append(c.rows, row{fault: &show.Problem{File: b.name, What: err.Error(), Remedy: "check the file"}})
			return c, true // the file cannot be read on
		}
		for i := range placed.Cells {
			if cell := &placed.Cells[i]; strings.HasPrefix(cell.Text, "'") && show.FromInert(cell.Text) != cell.Text {
				cell.Text, cell.Quoted = show.FromInert(cell.Text), true
			}
		}
		if room := len(cells) + len(placed.Cells); room <= cap(cells) {
			cells = cells[:room]
		}
		r := row{Placed: placed}
		problem := func(at int, what, remedy string) {
			r.fault = &show.Problem{File: b.name, What: what, Remedy: remedy}
			r.fault.Line, r.fault.Column = placed.Column(at)
		}
		switch {
		case placed.Fault == rows.OpenQuote:
			problem(placed.FaultAt, "this quote is never closed", "close it, or take it away")
		case placed.Fault == rows.BadQuote:
			problem(placed.FaultAt, "something stands behind the closing quote", `write a quote inside a quoted cell twice (""), or take the quotes away`)
		case placed.Fault == rows.Endless:
			problem(placed.Start, fmt.Sprintf("this row is longer than %d megabyte", rows.LongestRow>>20), "close its quote, or shorten it")
		case placed.Fault == rows.Crowded:
			problem(placed.Start, fmt.Sprintf("the row has more than %d cells", rows.MostCells), "take those that are too many away")
		case len(placed.Cells) != len(b.head):
			problem(placed.Start, fmt.Sprintf("the row has %s, the head of the table %d", show.Many(len(placed.Cells), "cell", "cells"), len(b.head)), "give every row as many cells as the head; put a cell with a comma in it into quotes")
			r.fault.Column = 0
		}
		c.rows = append(c.rows, r)
	}
	return c, false
}

// read reads row i into its chunk.
func (b *batch) read(w *batchWorker, c *chunk, i int) {
	r := &c.rows[i]
	from := len(c.text)
	problem := r.fault
	if problem == nil {
		var figure [figures]string
		for i, at := range b.at {
			if at >= 0 {
				figure[i] = strings.TrimSpace(r.Cells[at].Text)
			}
		}
		c.text = b.appendInput(c.text, r.Cells)
		var err error
		if w.missing(&figure) {
			c.missing++
			c.text = append(w.appendNothing(c.text), '\n')
			return
		}
		c.text, err = w.appendAnswer(c.text, figure)
		if err == nil {
			c.text = append(c.text, '\n')
			return
		}
		c.text = c.text[:from]
		problem = b.problem(r, err)
	}
	c.faults = append(c.faults, fault{problem: problem, row: r, at: from, before: i - len(c.faults)})
}

// problem places an error in the row.
func (b *batch) problem(r *row, err error) *show.Problem {
	var cell *cellError
	var value *sampling.ValueError
	p := &show.Problem{File: b.name, Line: r.Line, What: err.Error()}
	switch {
	case errors.As(err, &cell):
		if at := b.at[cell.figure]; at >= 0 {
			in := r.Cells[at]
			if skip := len(in.Text) - len(strings.TrimLeft(in.Text, " \t")); cell.offset+skip <= len(in.Text) {
				cell.offset += skip
			}
			start := in.Start + cell.offset
			if in.Quoted {
				start++
			}
			p.Line, p.Column = r.Column(min(start, in.End))
			p.Text, p.Offset, p.Length = in.Text, cell.offset, cell.length
		}
		p.What, p.Remedy = cell.problem, cell.remedy
	case errors.As(err, &value):
		p.What, p.Remedy = value.Problem, value.Remedy
	}
	return p
}
