package line

// The groups of the help, in the order they are shown.
const (
	GroupCount    = "count"
	GroupTreat    = "treat"
	GroupSeason   = "season"
	GroupChecking = "checking"
	GroupProgram  = "program" // about the program itself; these read no settings
)

// Groups are all of them.
var Groups = []string{GroupCount, GroupTreat, GroupSeason, GroupChecking, GroupProgram}
