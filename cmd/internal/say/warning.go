package say

// Warning is what a person must not miss: its kind for programs, and the text,
// whole sentences, for people.
type Warning struct {
	Kind WarningKind `json:"kind"`
	Text string      `json:"text"`
}

// WarningKind is what a warning is about. Counts have those of sampling.
type WarningKind string

// The kinds of warning that are not about a count.
const (
	LeftOut   WarningKind = "left-out"   // part of the record, or of what was typed, is not in the answer
	Doubtful  WarningKind = "doubtful"   // part of the record is in the answer and can hardly be so
	Written   WarningKind = "written"    // a row is in the record now and has something odd about it
	Caution   WarningKind = "caution"    // what could hurt people, bees or honey
	Assumed   WarningKind = "assumed"    // nobody said it, and it changes the answer
	Flattered WarningKind = "flattered"  // this way of counting can make a treatment look better than it was
	TooLittle WarningKind = "too-little" // it cannot give the certainty that was asked for
	Limits    WarningKind = "limits"     // what the answer knows nothing of
)

// Warn is a warning of one kind for each text.
func Warn(kind WarningKind, texts ...string) []Warning {
	var out []Warning
	for _, s := range texts {
		out = append(out, Warning{kind, s})
	}
	return out
}
