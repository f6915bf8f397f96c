// Package meant finds the name that was meant where one was mistyped, and asks
// for it in the remedy of an error.
package meant

import "strings"

// Word is the name closest to s by single-letter edits, "" when none is
// close enough to have been meant.
func Word(s string, names []string) string {
	best, bestDistance := "", 1+max(1, len(s)/2)
	for _, n := range names {
		if d := editDistance(s, n); d < bestDistance {
			best, bestDistance = n, d
		}
	}
	return best
}

// Remedy asks for the name that was likely meant and goes on with then; where
// none is near enough it is otherwise.
func Remedy(typed string, names []string, then, otherwise string) string {
	if question := Question(typed, names, ""); question != "" {
		return question + then
	}
	return otherwise
}

// Question asks for the name that was likely meant, with lead in front of it and
// a blank behind the question; it is "" when none is near enough.
func Question(typed string, names []string, lead string) string {
	if near := Word(typed, names); near != "" {
		return "did you mean " + lead + near + "? "
	}
	return ""
}

// OneOf is the remedy for a word that is none of a few.
func OneOf(typed string, words []string) string {
	list := strings.Join(words, ", ")
	return Remedy(typed, words, "The choices are "+list, "write one of "+list)
}

// editDistance counts insertions, deletions, changes and swaps of neighbours
// (the optimal string alignment distance).
func editDistance(a, b string) int {
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}
