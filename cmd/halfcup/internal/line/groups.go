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

// Pages are the pages of help, in the order they are listed.
var Pages = []string{"counts", "methods", "record", "columns", "settings", "lines", "cautions", "licences"}
