package drawn

import (
	"fmt"
	"math"
)

// Near reports whether two figures are the same to nine digits: processors that
// multiply and add in one step differ in the last ones.
func Near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(1, math.Abs(b)) }

// Apart tells the first place in which two values that were read from JSON
// differ, "" when there is none. Figures are compared by Near.
func Apart(at string, a, b any) string {
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			break
		}
		for k := range x {
			if diff := Apart(at+"."+k, x[k], y[k]); diff != "" {
				return diff
			}
		}
		return ""
	case []any:
		y, ok := b.([]any)
		if !ok || len(x) != len(y) {
			break
		}
		for i := range x {
			if diff := Apart(fmt.Sprintf("%s[%d]", at, i), x[i], y[i]); diff != "" {
				return diff
			}
		}
		return ""
	case float64:
		if y, ok := b.(float64); ok && Near(x, y) {
			return ""
		}
	default:
		if a == b {
			return ""
		}
	}
	return fmt.Sprintf("%s: %v and %v", at, a, b)
}
