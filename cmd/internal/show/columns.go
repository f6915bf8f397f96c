package show

import "strings"

// InColumns lays short texts out side by side, in as many columns as fit, row
// by row.
func (p Page) InColumns(cells []string, indent int) string {
	const gap = 4
	wide := 0
	for _, c := range cells {
		wide = max(wide, Wide(c))
	}
	columns := max(1, (p.Width-indent+gap)/(wide+gap))
	var b strings.Builder
	for i, c := range cells {
		if i%columns == 0 {
			b.WriteString(strings.Repeat(" ", indent))
		}
		if i%columns == columns-1 || i == len(cells)-1 {
			b.WriteString(c + "\n")
			continue
		}
		b.WriteString(Cell(c, wide+gap, false))
	}
	return b.String()
}
