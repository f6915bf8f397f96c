package keep

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	quantities "halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/rows"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/internal/meant"
	"halfcup/sampling"
)

// columnPrefix begins the names of the columns that are added to a table.
const columnPrefix = "hc_"

// batchColumns are added to every row.
var batchColumns = []string{"per_hundred", "interval_low", "interval_high", "median", "mean", "low", "high", "watch", "act", "chance_over_watch", "chance_over_act", "call"}

// batchReader reads the figures of rows. Its answers are kept, because in a
// survey the same figures come up again and again.
type batchReader struct {
	ask.Rules
	level  float64
	kind   sampling.IntervalKind
	method string // of rows without one, "" when none was said
	date   string // likewise

	grams, adultBees float64 // likewise, 0 when not said
	brood            string  // likewise: yes or no

	order   fieldlog.Order
	sep     byte // of what is written
	digits  int  // of numbers, -1 for all
	call    bool
	json    bool
	workers int

	mu      sync.RWMutex
	answers map[string][]byte
	days    map[sampling.Date]decide.Standing
}

// mostAnswers bounds what is kept, at about 20 MB.
const mostAnswers = 60_000

func newBatchReader(sh *line.Shell, c *cli.Context) (*batchReader, error) {
	r := &batchReader{
		order: sh.DateOrder(), sep: ',', digits: -1, call: !c.Bool("no-call"), json: sh.Format == "json", workers: runtime.GOMAXPROCS(0),
		answers: map[string][]byte{}, days: map[sampling.Date]decide.Standing{},
	}
	var err error
	if r.Rules, err = ask.ReadRules(sh, c); err != nil {
		return nil, err
	}
	if r.level, err = line.Number(c, "level", sh.Settings.Level); err != nil {
		return nil, err
	}
	if r.kind, err = ask.ReadIntervalKind(sh, c); err != nil {
		return nil, err
	}
	if c.IsSet("digits") {
		if r.digits, err = line.Whole(c, "digits"); err != nil {
			return nil, err
		}
	}
	if c.IsSet("date") {
		d, err := line.Date(c, "date")
		if err != nil {
			return nil, err
		}
		r.date = d.String()
	}
	if c.IsSet("grams-per-100") {
		if r.grams, err = line.Number(c, "grams-per-100", nil); err != nil {
			return nil, err
		}
	}
	if c.IsSet("adult-bees") {
		if r.adultBees, err = line.Number(c, "adult-bees", nil); err != nil {
			return nil, err
		}
	}
	if c.IsSet("brood") {
		if r.brood, err = line.Choice(c, "brood", "yes", "no"); err != nil {
			return nil, err
		}
	}
	if !c.IsSet("method") {
		return r, nil
	}
	m, err := sampling.ParseMethod(c.String("method"))
	r.method = string(m)
	return r, line.InFlag("method", err)
}

// batchWorker is what one goroutine reads with.
type batchWorker struct {
	*batchReader
	key     []byte
	surveys map[sampling.Date]*decide.Survey
	looks   decide.Outlooks
	limits  map[int][2]float64 // of one bee: Garwood's are the same but for the bees
}

func (r *batchReader) worker() *batchWorker {
	return &batchWorker{batchReader: r, surveys: map[sampling.Date]*decide.Survey{}, looks: decide.Outlooks{}, limits: map[int][2]float64{}}
}

// cellError says which figure of a row cannot be read, and where in its cell.
type cellError struct {
	figure, offset, length int
	problem, remedy        string
}

func (e *cellError) Error() string { return e.problem }

// isMissing reports the ways in which tables say that nothing was noted.
func isMissing(s string) bool {
	return s == "" || strings.EqualFold(s, "NA") || strings.EqualFold(s, "N/A") || strings.EqualFold(s, "NaN")
}

// missing reports a row that lacks what an answer needs, and empties the cells
// that only say so.
func (w *batchWorker) missing(figure *[figures]string) bool {
	for i, s := range figure {
		if isMissing(s) {
			figure[i] = ""
		}
	}
	return figure[figureMites] == "" || figure[figureBees] == "" ||
		figure[figureMethod] == "" && w.method == "" || figure[figureDate] == "" && w.date == ""
}

// appendNothing appends the answers to a row that has none.
func (w *batchWorker) appendNothing(text []byte) []byte {
	if w.json {
		values := make([]float64, len(batchColumns)-1)
		for i := range values {
			values[i] = math.NaN()
		}
		return w.appendJSONAnswer(text, values, "")
	}
	for range batchColumns {
		text = append(text, w.sep)
	}
	return text
}

// appendAnswer appends what the figures of a row say.
func (w *batchWorker) appendAnswer(text []byte, figure [figures]string) ([]byte, error) {
	w.key = w.key[:0]
	for _, s := range figure {
		w.key = append(append(w.key, s...), 0)
	}
	w.mu.RLock()
	kept, ok := w.answers[string(w.key)]
	w.mu.RUnlock()
	if ok {
		return append(text, kept...), nil
	}
	from := len(text)
	text, err := w.answer(text, figure)
	if err != nil {
		return text, err
	}
	w.mu.Lock()
	if len(w.answers) >= mostAnswers {
		clear(w.answers)
	}
	w.answers[string(w.key)] = bytes.Clone(text[from:])
	w.mu.Unlock()
	return text, nil
}

// answer works out a row that was not seen lately.
func (w *batchWorker) answer(text []byte, figure [figures]string) ([]byte, error) {
	count, err := w.count(figure)
	if err != nil {
		return text, err
	}
	blank, err := w.blank(count.Date)
	if err != nil {
		return text, err
	}
	survey := w.survey(blank)
	per, low, high := math.NaN(), math.NaN(), math.NaN()
	if count.Method.Kind() == sampling.BeeSample {
		bees, _, err := w.BeesOf(count)
		if err != nil {
			return text, err
		}
		if low, high, err = w.interval(count.Mites, bees); err != nil {
			return text, err
		}
		per = float64(count.Mites) / bees
	}
	sum, watch, act, err := survey.Read(count)
	if err != nil {
		return text, err
	}
	call := decide.Call("")
	if w.call {
		if call, err = w.callOf(survey, count); err != nil {
			return text, err
		}
	}
	values := []float64{100 * per, 100 * low, 100 * high, sum.Median, sum.Mean, sum.Low, sum.High, blank.Line.Watch, blank.Line.Act, watch, act}
	if w.json {
		return w.appendJSONAnswer(text, values, call), nil
	}
	for _, v := range values {
		text = append(text, w.sep)
		if from := len(text); !math.IsNaN(v) {
			text = w.appendNumber(text, v)
			if w.sep == ';' {
				commaFor(text[from:])
			}
		}
	}
	return append(append(text, w.sep), call...), nil
}

// commaFor writes the decimal point of a number as a comma. A table between
// semicolons was written where the comma is the decimal sign, and there a
// spreadsheet takes 3.2 for a day in February.
func commaFor(number []byte) {
	if i := bytes.IndexByte(number, '.'); i >= 0 {
		number[i] = ','
	}
}

// appendNumber appends a number in so many figures; 100 in two of them is 100.
func (w *batchWorker) appendNumber(text []byte, v float64) []byte {
	if w.digits > 0 && !math.IsInf(v, 0) {
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', w.digits, 64), 64) // of a number
	}
	return strconv.AppendFloat(text, v, 'g', -1, 64)
}

// appendJSONAnswer appends the figures under their names, and ends the object.
func (w *batchWorker) appendJSONAnswer(text []byte, values []float64, call decide.Call) []byte {
	for i, name := range batchColumns[:len(values)] {
		text = append(append(append(text, `,"`...), name...), `":`...)
		if math.IsNaN(values[i]) {
			text = append(text, "null"...)
			continue
		}
		if w.digits > 0 && !math.IsInf(values[i], 0) {
			text = w.appendNumber(text, values[i])
			continue
		}
		number, _ := show.Number(values[i]).MarshalJSON() // a number that is none is null
		text = append(text, number...)
	}
	text = append(text, `,"call":`...)
	if call == "" {
		return append(text, "null}"...)
	}
	return append(append(append(text, '"'), call...), `"}`...)
}

// interval is the bare interval of a count, in mites per bee.
func (w *batchWorker) interval(mites int, bees float64) (low, high float64, err error) {
	if w.kind != sampling.Garwood || mites > 10_000 {
		return w.kind.Limits(mites, bees, w.level)
	}
	l, ok := w.limits[mites]
	if !ok {
		if l[0], l[1], err = w.kind.Limits(mites, 1, w.level); err != nil {
			return 0, 0, err
		}
		w.limits[mites] = l
	}
	return l[0] / bees, l[1] / bees, nil
}

// mostDays bounds what is kept by day.
const mostDays = 2000

// blank is a colony of which nothing is known on a day.
func (r *batchReader) blank(day sampling.Date) (decide.Standing, error) {
	r.mu.RLock()
	s, ok := r.days[day]
	r.mu.RUnlock()
	if ok {
		return s, nil
	}
	s, err := decide.Apiary{Rules: r.Rules.Rules, Colonies: []decide.Colony{r.Base}}.Of(0, day)
	if err != nil {
		return s, err
	}
	r.mu.Lock()
	if len(r.days) >= mostDays {
		clear(r.days)
	}
	r.days[day] = s
	r.mu.Unlock()
	return s, nil
}

// survey reads the counts of colonies of which nothing is known on a day.
func (w *batchWorker) survey(blank decide.Standing) *decide.Survey {
	s := w.surveys[blank.Day]
	if s == nil {
		if len(w.surveys) >= mostDays {
			clear(w.surveys)
		}
		s = blank.Survey(w.level, w.looks)
		w.surveys[blank.Day] = s
	}
	return s
}

// callOf is the call for a colony of which one count is known, on the day of
// that.
func (r *batchReader) callOf(survey *decide.Survey, c sampling.Count) (decide.Call, error) {
	if c.Method != sampling.Knockdown {
		return survey.Call(c)
	}
	// The fall after a treatment tells of an earlier day.
	k := r.Base
	k.Counts = []sampling.Count{c}
	s, err := decide.Apiary{Rules: r.Rules.Rules, Colonies: []decide.Colony{k}}.Of(0, c.Date)
	return s.Call, err
}

// count puts the figures into the notation of a count and reads that, so that
// a table is read as strictly as a line that is typed.
func (w *batchWorker) count(figure [figures]string) (sampling.Count, error) {
	if figure[figureMethod] == "" {
		figure[figureMethod] = w.method
	}
	if figure[figureDate] == "" {
		figure[figureDate] = w.date
	}
	day, err := w.order.Date(figure[figureDate])
	var bad *sampling.SyntaxError
	switch {
	case errors.As(err, &bad):
		return sampling.Count{}, &cellError{figure: figureDate, offset: bad.Offset, length: bad.Length, problem: bad.Problem, remedy: bad.Remedy}
	case err != nil:
		return sampling.Count{}, err
	}
	comma := w.sep != ',' // which leaves the comma to decimals
	count, bads := fieldlog.CountCells{Method: figure[figureMethod], Mites: figure[figureMites], Amount: figure[figureBees], Frames: figure[figureFrames], DecimalComma: comma}.Read()
	if bads != nil {
		figureOf := map[string]int{"method": figureMethod, "mites": figureMites, "amount": figureBees, "frames": figureFrames}
		return count, inCell(figureOf[bads[0].Column], bads[0])
	}
	count.Date = day
	if count.Amount.Unit == sampling.Grams && count.GramsPer100 == 0 {
		if count.GramsPer100, err = w.gramsPer100(figure[figureGrams], comma); err != nil {
			return count, err
		}
	}
	if count.Method.Kind() != sampling.Fall {
		return count, nil
	}
	cells := fieldlog.HiveCells{AdultBees: figure[figureAdultBees], Brood: cmp.Or(figure[figureBrood], w.brood), DecimalComma: comma}
	bees, frames, badCell := cells.ReadAdultBees()
	if badCell != nil {
		return count, inCell(figureAdultBees, badCell)
	}
	brood, badCell := cells.ReadBrood()
	if badCell != nil {
		return count, inCell(figureBrood, badCell)
	}
	switch {
	case frames > 0:
		count.Hive.AdultBees, count.Hive.AdultBeesCV = sampling.BeesOnFrames(frames)
	default:
		count.Hive.AdultBees = cmp.Or(bees, w.adultBees)
	}
	count.Hive.Broodless = brood == fieldlog.BroodAbsent
	return w.Base.Over(count, brood != fieldlog.BroodUnknown), nil
}

func inCell(figure int, bad *fieldlog.CellError) *cellError {
	return &cellError{figure: figure, offset: bad.Offset, length: bad.Length, problem: bad.Problem, remedy: bad.Remedy}
}

// gramsPer100 is the weight of 100 bees of a row, or that of all rows.
func (w *batchWorker) gramsPer100(text string, comma bool) (float64, error) {
	if text == "" {
		return w.grams, nil
	}
	if comma {
		text = strings.Replace(text, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(text, 64)
	if bounds := quantities.Named("grams-per-100"); err != nil || !line.IsDecimal(text) || !bounds.Allows(v) {
		return 0, &cellError{figure: figureGrams, length: len(text), problem: fmt.Sprintf("%q is not the weight of a hundred bees", text), remedy: "write the grams that 100 bees weigh, " + bounds.Range()}
	}
	return v, nil
}

// readHead reads the head of the table and finds the columns.
func (b *batch) readHead(table *rows.Reader) error {
	head, err := table.Next(nil)
	const remedy = "begin the table with the names of its columns, such as method,mites,bees"
	switch {
	case errors.Is(err, io.EOF):
		return &show.Problem{File: b.name, Line: 1, What: "the table is empty", Remedy: "begin it with the names of its columns, such as method,mites,bees"}
	case errors.As(err, new(*fs.PathError)):
		return err
	case err != nil:
		return &show.Problem{File: b.name, Line: 1, What: err.Error(), Remedy: remedy}
	case head.Fault != rows.Whole:
		return &show.Problem{File: b.name, Line: head.Line, What: "the names of the columns cannot be read: a quote is not closed, or the line is too long", Remedy: remedy}
	}
	if what := notText(head.Raw); what != "" {
		return &show.Problem{File: b.name, Line: 1, What: what, Remedy: "save it from the spreadsheet as CSV in UTF-8"}
	}
	for _, sep := range []byte{';', '\t'} {
		if other := rows.Line(head.Raw, 0, sep); len(other.Cells) > len(head.Cells) && other.Fault == rows.Whole {
			head.Row, table.Sep, b.reader.sep = other, sep, sep
		}
	}
	b.sep = table.Sep
	b.head = texts(head.Cells)
	for i, name := range b.head {
		b.head[i] = show.FromInert(name)
	}
	if err := b.distinct(); err != nil {
		return err
	}
	for i, name := range b.columns {
		b.at[i] = slices.IndexFunc(b.head, func(h string) bool { return name != "-" && sameColumn(h, name) })
	}
	for i, name := range b.columns {
		said := map[int]string{figureMethod: b.reader.method, figureDate: b.reader.date}[i]
		optional := i == figureFrames || i >= figureGrams
		required := !optional && said == "" || name != figureNames[i]
		none := name == "-"
		if b.at[i] >= 0 || none && (optional || said != "") || !none && !required {
			continue
		}
		if none {
			name = figureNames[i]
		}
		remedy := fmt.Sprintf("name it with --column %s=NAME; the columns are %s", figureNames[i], strings.Join(b.head, ", "))
		if i == figureMethod || i == figureDate {
			remedy = fmt.Sprintf("say it of all rows with --%s, or ", figureNames[i]) + remedy
		}
		if question := meant.Question(name, b.head, "--column "+figureNames[i]+"="); question != "" && name != figureNames[i] {
			remedy = question + remedy // as it was typed; but to the name of a figure the words of others come near
		} else if like := b.looksLike(i); like != "" {
			remedy = fmt.Sprintf("did you mean --column %q? ", figureNames[i]+"="+like) + remedy
		}
		return &show.Problem{File: b.name, Line: 1, What: "there is no column " + name + " for the " + figureNames[i], Remedy: remedy}
	}
	table.Whole, table.Begins = b.looksWhole, b.looksCounted
	b.own = make([]bool, len(b.head))
	for i, name := range b.head {
		name, ours := strings.CutPrefix(name, columnPrefix)
		b.own[i] = ours && slices.Contains(batchColumns, name)
	}
	return nil
}

// sameColumn reports whether two names are of one column, as in the record: in
// any case, with blanks or hyphens for underscores.
func sameColumn(a, b string) bool {
	same := strings.NewReplacer(" ", "_", "-", "_")
	return strings.EqualFold(same.Replace(strings.TrimSpace(a)), same.Replace(strings.TrimSpace(b)))
}

// figureWords are the words of columns that are likely to hold a figure.
var figureWords = [figures][]string{
	figureMethod: {"method", "technique", "sampling"},
	figureMites:  {"mites", "mite", "varroa"},
	figureBees:   {"bees", "bee", "amount", "size"},
	figureFrames: {"frames", "frame"},
	figureDate:   {"date", "day", "sampled", "visit", "visited"},
}

// looksLike is the one column of which a word says that it holds a figure, "" when
// there is none or more.
func (b *batch) looksLike(figure int) string {
	found := ""
	for i, name := range b.head {
		words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) })
		if slices.Contains(b.at[:], i) || !slices.ContainsFunc(words, func(w string) bool { return slices.Contains(figureWords[figure], w) }) {
			continue
		}
		if found != "" {
			return ""
		}
		found = strings.TrimSpace(name)
	}
	return found
}

// notText says what a file is that is no table in text, "" when it is one.
func notText(start string) string {
	switch {
	case strings.HasPrefix(start, "PK\x03\x04"):
		return "this is a spreadsheet's own file (.xlsx or .ods), and not a table in text"
	case strings.HasPrefix(start, "\xff\xfe"), strings.HasPrefix(start, "\xfe\xff"):
		return "the file is written in UTF-16"
	}
	return ""
}

// distinct refuses two columns of one name: which one is meant nobody can say.
func (b *batch) distinct() error {
	at := map[string]int{}
	for i, name := range b.head {
		name = strings.ToLower(strings.TrimSpace(name))
		if name == "" && !b.json {
			continue
		}
		if first, twice := at[name]; twice {
			return &show.Problem{File: b.name, Line: 1, What: fmt.Sprintf("the columns %d and %d have one name, %q", first+1, i+1, b.head[i]), Remedy: "give one of them another name"}
		}
		at[name] = i
	}
	return nil
}

// looksCounted reports whether a row has the cells of this table, with mites
// where the mites are.
func (b *batch) looksCounted(r rows.Row) bool {
	if len(r.Cells) != len(b.head) || r.Fault != rows.Whole || b.at[figureMites] < 0 || b.at[figureBees] < 0 {
		return false
	}
	mites := r.Cells[b.at[figureMites]].Text
	return mites != "" && strings.Trim(mites, "0123456789") == ""
}

// looksWhole reports whether a row could stand in this table. A bare quote in
// it is the end of a note that began on an earlier line.
func (b *batch) looksWhole(r rows.Row) bool {
	if !b.looksCounted(r) {
		return false
	}
	for _, c := range r.Cells {
		if !c.Quoted && strings.Contains(c.Text, `"`) {
			return false
		}
	}
	bees := r.Cells[b.at[figureBees]].Text
	return bees != "" && strings.ContainsRune("0123456789.", rune(bees[0]))
}

// headLine is the first line of the answer as CSV.
func (b *batch) headLine() []byte {
	var names []string
	for i, name := range b.head {
		if !b.own[i] {
			names = append(names, show.Inert(name))
		}
	}
	for _, name := range batchColumns {
		names = append(names, columnPrefix+name)
	}
	var text []byte
	for i, name := range names {
		if i > 0 {
			text = append(text, b.sep)
		}
		text = b.appendCell(text, name, len(names) == 1)
	}
	return append(text, '\n')
}

// appendInput writes the row as it came, but for the answers of an earlier run.
func (b *batch) appendInput(text []byte, cells []rows.Cell) []byte {
	if !b.json {
		first := true
		for i, c := range cells {
			if b.own[i] {
				continue
			}
			if !first {
				text = append(text, b.sep)
			}
			first = false
			text = b.appendCell(text, show.Inert(c.Text), len(cells) == 1)
		}
		return text
	}
	text = append(text, `{"schema":"halfcup.batch/1","input":{`...)
	for i, cell := range cells {
		if i > 0 {
			text = append(text, ',')
		}
		text = append(appendJSON(text, b.head[i]), ':')
		text = appendJSON(text, cell.Text)
	}
	return append(text, '}')
}

func appendJSON(text []byte, s string) []byte {
	quoted, _ := json.Marshal(s) // a string cannot fail
	return append(text, show.Marked(string(quoted))...)
}

// appendCell writes one cell. An empty one that is alone is quoted, because an
// empty line is no row.
func (b *batch) appendCell(text []byte, cell string, alone bool) []byte {
	if !strings.ContainsAny(cell, "\"\r\n") && strings.IndexByte(cell, b.sep) < 0 && !strings.HasPrefix(cell, " ") && (cell != "" || !alone) {
		return append(text, cell...)
	}
	text = append(text, '"')
	text = append(text, strings.ReplaceAll(cell, `"`, `""`)...)
	return append(text, '"')
}
