package main

import (
	"fmt"
	"slices"
	"strings"

	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/licences"
	"halfcup/cmd/internal/show"
	"halfcup/decide"
	"halfcup/sampling"
)

// pages makes every page of help, by its name.
var pages = map[string]func() page{
	"counts":   countsPage,
	"methods":  methodsPage,
	"record":   recordPage,
	"columns":  columnsPage,
	"settings": settingsPage,
	"lines":    linesPage,
	"cautions": cautionsPage,
	"licences": licencesPage,
}

// pageTitles say what each page is about, for the list of them.
var pageTitles = map[string]string{
	"counts":   "how a count is written",
	"methods":  "how each count is made, step by step",
	"record":   "the file of what was done and seen, and its events",
	"columns":  "the columns of the record, and what their cells hold",
	"settings": "what halfcup.toml can say, with units, defaults and bounds",
	"lines":    "the lines a colony is held against, by season",
	"cautions": "what could hurt people, bees or honey",
	"licences": "the terms of the code, of the data and of what is linked in",
}

func countsPage() page {
	var kinds []item
	for _, m := range sampling.Methods() {
		kinds = append(kinds, item{m.Example(), m.Title() + "; behind the stroke " + m.Units()})
	}
	return page{blocks: []block{
		{text: "A count is one word, METHOD:MITES/AMOUNT, and says what was counted: wash:5/300 is 5 mites in a wash of 300 bees."},
		{heading: "the kinds of count", items: kinds},
		{heading: "what can follow, in this order", items: []item{
			{"/3f", "the bees came from 3 frames: roll:7/300/3f"},
			{"/damp, /dry", "a roll on damp or on dry bees: roll:7/300/damp"},
			{"@2026-08-06", "the day; of a board or a fall after treatment the day the board came out"},
		}},
		{heading: "amounts", items: []item{
			{"300", "bees that were counted"},
			{"0.5cup, 120ml", "a level measure of bees; half a cup is 120 mL, about 300 bees"},
			{"41g", "bees that were weighed; add --grams-per-100, the weight of 100 bees as wet as they were"},
			{"3d, 36h", "how long a board lay"},
		}},
		{text: "Write decimals with a point and thousands without a mark. Several counts of one colony may stand on one line."},
	}}
}

func methodsPage() page {
	blocks := []block{{text: "A careful alcohol wash is the scale: levels are mites per hundred adult bees as such a wash finds them. Follow the steps; a count made another way is read wrongly."}}
	for _, m := range sampling.Methods() {
		b := block{heading: m.Title() + ": " + m.Example(), text: "Also read as " + show.List(otherNames(m)) + "."}
		if m.Kind() == sampling.BeeSample {
			fate := "The bees of the sample live."
			if m.KillsBees() {
				fate = "The bees of the sample die."
			}
			b.text = fate + " " + b.text
		}
		for i, s := range m.Steps() {
			b.items = append(b.items, item{fmt.Sprint(i+1, "."), s.Text})
		}
		blocks = append(blocks, b)
	}
	return page{blocks: blocks}
}

// otherNames are the names of a method but the one it is typed by and its title.
func otherNames(m sampling.Method) []string {
	return slices.DeleteFunc(m.Names(), func(s string) bool { return s == string(m) || s == m.Title() })
}

// kindsMean is what each event of the record says. The words for a column that
// must be filled in stand with it.
var kindsMean = map[fieldlog.Kind]string{
	fieldlog.Count:             "a count of mites: method, mites and amount say which",
	fieldlog.Treatment:         "a round of a treatment: active and application say which, until the day it is to come out",
	fieldlog.TreatmentEnd:      "what lay in the hive came out; with active only that",
	fieldlog.Inspection:        "the hive was opened; brood and adult_bees say what was seen",
	fieldlog.BoardIn:           "a board was slid in; the count on the day it comes out says what fell",
	fieldlog.Split:             "colony is the new part, pair the colony it was taken from",
	fieldlog.United:            "colony is the one that ends, pair the one it was joined to",
	fieldlog.Swarmed:           "a swarm left",
	fieldlog.Hived:             "a swarm or package was put into an empty hive; it is another colony than one of that name that died or was united",
	fieldlog.Requeened:         "a new queen",
	fieldlog.Queenless:         "the queen is gone",
	fieldlog.BroodBreak:        "brood no: the queen stopped laying, and the last brood emerges three weeks later; brood yes: she or another lays again",
	fieldlog.QueenCaged:        "the queen was caged, so that she stops laying",
	fieldlog.QueenReleased:     "she was let out of the cage, or her cage taken away",
	fieldlog.SupersOn:          "honey supers went on",
	fieldlog.SupersOff:         "honey supers came off",
	fieldlog.HoneyTaken:        "honey was taken",
	fieldlog.DroneFrameIn:      "a frame for drone brood went in",
	fieldlog.DroneBroodRemoved: "capped drone brood was cut out",
	fieldlog.Robbing:           "other colonies robbed it, or it robbed them",
	fieldlog.Moved:             "the hive was moved",
	fieldlog.Signs:             "crippled wings or sick brood were seen",
	fieldlog.Died:              "the colony died",
	fieldlog.Renamed:           "colony is its name now, pair the one it had: every row up to that day is told under the new name",
	fieldlog.Undo:              "takes back the row whose id stands in undo_of",
}

func recordPage() page {
	var events []item
	for _, k := range fieldlog.Kinds() {
		events = append(events, item{string(k), kindsMean[k]})
	}
	return page{blocks: []block{
		{text: "The record is " + line.DefaultRecord + " in the folder you work in, or the file that --log names: a CSV table that any spreadsheet opens, one row an event. halfcup log add writes a row, and makes the file when there is none; log list shows it, log check finds what is wrong with it."},
		{lines: []string{"halfcup log add --colony alder roll:6/300", "halfcup log add --colony alder --treatment oxalic-vapour", "halfcup yard"}},
		{heading: "events", items: events},
		{heading: "close the spreadsheet first", text: "A record that is open in a spreadsheet is a copy. Saved later, the copy takes the place of the file, and every row that log add wrote in between is gone. So save and close the record in the spreadsheet before you add to it here, and open it again afterwards. Save it as CSV in UTF-8, not as a workbook."},
		{heading: "rows that cannot be read", text: "A bad row never stops the yard: every answer, log list too, is that of the other rows; it tells which it left out and ends in exit 3. halfcup log check names all faults at once. What writes rows tells of bad ones as well, and ends in exit 0 once its own stand in the file, so that nobody writes them twice."},
		{heading: "names and dates", text: "A yard or colony is the same in capitals or small letters; 03 stays 03. A date is written 2026-08-06; dates with points are day.month.year, and others are read in the order that a day over 12 in the file settles, or date_order in the settings (dmy, mdy, ymd). A row marked planned, or one of the days to come, is a plan: it acts until its day, and after it only when a row says that it was done. No row is ever cut; an undo takes one back, and halfcup log rename gives a colony another name. halfcup help columns tells what each cell holds."},
	}}
}

// columnsMean is what the cells of each column of the record hold.
var columnsMean = map[string]string{
	"date":        "the day, 2026-08-06; of a board or a fall after treatment the day the board came out",
	"yard":        "its name; may be empty with one yard",
	"colony":      "its name",
	"event":       "what happened: halfcup help record lists the events; empty beside a method it is a count",
	"method":      "of a count: " + methodNames() + ", or a name that halfcup help methods lists",
	"mites":       "of a count: the mites, in digits",
	"amount":      "of a count: what was counted, 300, 0.5cup or half a cup, 120ml, 41g, 3d or 36h; behind a blank 17.6g/100 (weight of 100 bees), 33/99 (cells counted of a board), 2/day (natural fall before a treatment)",
	"frames":      "of a count of bees: how many frames they came from",
	"adult_bees":  "bees in the hive, 18000, or frames covered with bees on both sides, 9f",
	"brood":       "whether there was capped brood, yes or no; of a brood-break whether the queen lays",
	"active":      "of a treatment: the active ingredient, such as oxalic acid",
	"application": "how it was given, such as vapour",
	"pair":        "of a count: a label that ties two counts made to be compared; of split and united: the other colony",
	"note":        "anything",
	"until":       "of a treatment: the day it is to come out by its label",
	"mark":        "planned, or done when what was planned was done",
	"weather":     "of a sugar roll: damp or dry",
	"stand":       "place of the hive in its yard, such as 7",
	"observer":    "who counted or looked",
	"id":          "letters of a device and a number, h12 or h12.3",
	"by":          "who or what wrote the row",
	"undo_of":     "the id of an earlier row that this one takes the place of",
}

func methodNames() string {
	var out []string
	for _, m := range sampling.Methods() {
		out = append(out, string(m))
	}
	return strings.Join(out, ", ")
}

func columnsPage() page {
	var columns []item
	for _, name := range fieldlog.ColumnNames() {
		what := columnsMean[name]
		for _, f := range figures.All() {
			if f.Column == name {
				what += "; " + f.What + ": " + f.Range()
			}
		}
		columns = append(columns, item{name, what})
	}
	return page{blocks: []block{
		{text: "The first row names the columns, in any order. Only date, colony and event must be there; the later ones a file gets when something is to be written in them. Columns of other names are yours: they are kept and not read. Cells stand between commas, semicolons or tabs; with semicolons and tabs a decimal comma is read too."},
		{items: columns},
	}}
}

func settingsPage() page {
	blocks := []block{{text: "Settings are " + line.DefaultSettings + " in the folder you work in, or the file that --settings names. Only you write it. A flag on the line beats a setting, and a setting beats the default."}}
	table := "-"
	for _, key := range line.Keys() {
		in, name := "", key
		if before, after, ok := strings.Cut(key, "."); ok {
			in, name = before, after
		}
		if in != table {
			table = in
			heading := "at the top of the file"
			if in != "" {
				heading = "[" + in + "]"
			}
			blocks = append(blocks, block{heading: heading})
		}
		f, _ := figures.OfSetting(key)
		what := f.What + ": " + f.Range() + " (default: " + f.Default + ")"
		if f.Flag != "" {
			what += " --" + f.Flag
		}
		b := &blocks[len(blocks)-1]
		b.items = append(b.items, item{name, what})
	}
	blocks = append(blocks, block{heading: "for example", lines: []string{"act = 2.5", `hemisphere = "south"`, "", "[season]", `supers = "05-01..07-20"`}})
	return page{blocks: blocks}
}

func linesPage() page {
	blocks := []block{{text: "A line is a level in mites per hundred bees by a careful wash. From the watch line a colony deserves another look, from the act line a treatment, if the season allows one. --thresholds names a set or a CSV file of yours with the columns set, season, watch, act, source and kind; --watch and --act, or settings of the same names, hold all year. No line is a law of nature: each says what it rests on."}}
	set := ""
	for _, t := range decide.Thresholds() {
		if t.Set != set {
			set = t.Set
			heading := set
			if set == decide.DefaultThresholds {
				heading += " (used when none is named)"
			}
			blocks = append(blocks, block{heading: heading})
		}
		b := &blocks[len(blocks)-1]
		b.items = append(b.items, item{string(t.Season), fmt.Sprintf("watch %s, act %s: %s (%s)", show.Plain(t.Watch), show.Plain(t.Act), t.Source, t.Kind)})
	}
	return page{blocks: blocks}
}

// otherCautions are what there are cautions about besides methods and
// treatments, and what it is called.
var otherCautions = []item{
	{"combs", "moving combs"}, {"signs", "signs of disease"}, {"queen-caged", "a caged queen"},
	{"drone-brood", "drone brood cut out"}, {"phone", "the phone in the yard"}, {"stings", "stings"},
}

func cautionsPage() page {
	blocks := []block{
		{text: "Before you treat or count. The label, the law where you are, and your vet or bee inspector decide; nothing here is a dose."},
		cautionsOn("treatment", "every treatment", nil),
	}
	general := decide.Cautions("treatment")
	for _, t := range sampling.Treatments() {
		blocks = append(blocks, cautionsOn(t.Slug, t.TreatmentName.String(), general))
	}
	for _, m := range sampling.Methods() {
		blocks = append(blocks, cautionsOn(string(m), m.Title(), nil))
	}
	for _, it := range otherCautions {
		blocks = append(blocks, cautionsOn(it.word, it.what, nil))
	}
	return page{blocks: slices.DeleteFunc(blocks, func(b block) bool { return b.text == "" && b.items == nil })}
}

// cautionsOn are the cautions of one name but those said already.
func cautionsOn(name, heading string, said []decide.Caution) block {
	b := block{heading: heading}
	for _, c := range decide.Cautions(name) {
		if !slices.Contains(said, c) {
			b.items = append(b.items, item{string(c.About), c.Text})
		}
	}
	return b
}

func licencesPage() page {
	return page{blocks: []block{
		{heading: "this program", text: "No licence has been chosen yet: ask before you reuse the code."},
		{heading: "data", text: licences.Data},
		{heading: "what is linked in", lines: strings.Split(strings.TrimRight(licences.Text(), "\n"), "\n")},
	}}
}
