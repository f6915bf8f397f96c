//go:build !page

package show

import (
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/jedib0t/go-pretty/v6/text"
)

// Column is one column of a Table.
type Column struct {
	Name  string
	Right bool // set figures to the right, so that their digits line up
	Flow  bool // wrap this column's text so that the table fits the page
}

// Table is a plain table for people: the head between two rules, a third rule
// at the end, nothing upright. Cells are text; figures are written beforehand.
type Table struct {
	Columns []Column
	Rows    [][]string
}

const (
	wideGap     = 2  // blanks between columns, 1 where the page is narrow
	narrowestOf = 12 // a flowing column is never narrower
)

// Table lays t out on the page. The result ends with a line break. On a page
// narrower than usual that cannot hold the columns, every row is a block of lines.
func (p Page) Table(t Table) string {
	if p.Width < defaultWidth && p.needs(t) > p.Width {
		return p.blocks(t)
	}
	w := table.NewWriter()
	style := table.Style{Name: "halfcup", Box: table.StyleBoxLight, Options: table.OptionsNoBordersAndSeparators}
	if p.ASCII {
		style.Box = table.StyleBoxDefault
	}
	gap := p.gap(t)
	style.Box.PaddingLeft, style.Box.PaddingRight = "", strings.Repeat(" ", gap)
	style.Format.Header = text.FormatDefault
	style.Options.SeparateHeader = false
	w.SetStyle(style)
	w.SuppressTrailingSpaces()

	configs := make([]table.ColumnConfig, len(t.Columns))
	head := make(table.Row, len(t.Columns))
	for i, c := range t.Columns {
		align := text.AlignLeft
		if c.Right {
			align = text.AlignRight
		}
		configs[i] = table.ColumnConfig{Number: i + 1, Align: align, AlignHeader: align}
		if c.Flow {
			configs[i].WidthMax = max(p.room(t, i, gap), narrowestOf)
			configs[i].WidthMaxEnforcer = text.WrapSoft
		}
		head[i] = c.Name
	}
	w.SetColumnConfigs(configs)
	w.AppendHeader(head)
	for _, r := range t.Rows {
		row := make(table.Row, len(r))
		for i, cell := range r {
			row[i] = Marked(cell)
		}
		w.AppendRow(row)
	}
	return p.rule(w.Render())
}

// needs is the least width of t.
func (p Page) needs(t Table) int {
	used := len(t.Columns) - 1
	for i, c := range t.Columns {
		if c.Flow {
			used += narrowestOf
		} else {
			used += columnWidth(t, i)
		}
	}
	return used
}

// blocks writes a row as its first cell and, below it, every other cell that
// is not empty beside the name of its column.
func (p Page) blocks(t Table) string {
	wide := 0
	for _, c := range t.Columns[1:] {
		wide = max(wide, text.StringWidthWithoutEscSequences(c.Name))
	}
	var b strings.Builder
	for i, row := range t.Rows {
		if i > 0 {
			b.WriteString("\n")
		}
		b.WriteString(p.Hang(Marked(row[0]), 0, 2))
		for j, cell := range row[1:] {
			if cell != "" {
				b.WriteString(p.Beside(t.Columns[j+1].Name, wide+2, Marked(cell), 2))
			}
		}
	}
	return b.String()
}

// columnWidth is how wide the widest cell of a column is.
func columnWidth(t Table, i int) int {
	wide := text.StringWidthWithoutEscSequences(t.Columns[i].Name)
	for _, r := range t.Rows {
		wide = max(wide, text.StringWidthWithoutEscSequences(Marked(r[i])))
	}
	return wide
}

// rule draws the three rules: above the head, below it, and at the end.
func (p Page) rule(body string) string {
	lines := strings.Split(body, "\n")
	wide := 0
	for _, l := range lines {
		wide = max(wide, text.StringWidthWithoutEscSequences(l))
	}
	dash := "─"
	if p.ASCII {
		dash = "-"
	}
	rule := strings.Repeat(dash, wide) + "\n"
	return rule + lines[0] + "\n" + rule + strings.Join(lines[1:], "\n") + "\n" + rule
}

// gap is how far the columns of t stand apart.
func (p Page) gap(t Table) int {
	for i, c := range t.Columns {
		if c.Flow && p.room(t, i, wideGap) < narrowestOf {
			return 1
		}
	}
	return wideGap
}

// room is what the other columns leave for column i.
func (p Page) room(t Table, i, gap int) int {
	used := 0
	for j := range t.Columns {
		if j != i {
			used += columnWidth(t, j) + gap
		}
	}
	return p.Width - used
}
