// Package fieldlog keeps a beekeeper's record: it reads the file, checks it
// and appends to it.
//
// # The file
//
// The record is a CSV file that any spreadsheet opens, one row an event. The
// first row names the columns, in any order and case:
//
//	date         the day, 2026-08-06; in a spreadsheet's own order see Order
//	yard         may be empty for a beekeeper with one yard
//	colony       its name; 03 stays 03
//	event        count, treatment, treatment-end, inspection, board-in, split,
//	             united, swarmed, hived, requeened, queenless, brood-break,
//	             queen-caged, queen-released, supers-on, supers-off,
//	             honey-taken, drone-frame-in, drone-brood-removed, robbing,
//	             moved, signs, died, renamed or undo; where it is empty and a
//	             method is named, a count
//	method       of a count: wash, roll, co2, board or knockdown
//	mites        of a count
//	amount       of a count: what was looked at, see below
//	frames       of a count of bees: how many frames they came from
//	adult_bees   bees in the hive, 18000, or frames covered with bees, 9f
//	brood        capped brood in the hive that day, yes or no; see brood-break
//	active       of a treatment or a knockdown: the active ingredient
//	application  and how it was given
//	pair         a label that ties two counts made to be compared; for split and
//	             united the other colony
//	note         anything
//
// A file gets these when something is to be written in them:
//
//	until        of a treatment: the day it is to come out by its label
//	mark         planned, or done when what was planned was done
//	weather      of a sugar roll: damp or dry
//	stand        place of the hive in its yard, such as 7
//	observer     who looked
//	id           letters of a device and a number, h12 or h12.3
//	by           who or what wrote the row
//	undo_of      the id of an earlier row that this one takes the place of
//
// Only date, colony and event must be there. Columns of other names are the
// beekeeper's own: they are kept and not read. Commas, semicolons or tabs
// separate cells; with semicolons and tabs a decimal comma is read too. Cells
// may be quoted, and a quoted note may hold line breaks. One that a spreadsheet
// would run as a formula, such as =1+1, is written with an apostrophe in front; it is
// read without it.
//
// # The cells of a count
//
// Method and amount are written as in the count notation, by all names that
// people use: sugar shake is roll, half a cup and 1/2 cup are 0.5cup. What is
// needed to read an amount may follow behind a blank:
//
//	41g 17.6g/100   weighed bees, of which 100 weigh 17.6 g
//	3d 33/99        a gridded board on which 33 of 99 cells were counted
//	5d 2/day        a knockdown with a natural fall of 2 mites a day before it
//
// The date of a board or knockdown is the day the board came out.
//
// # Other events
//
// split: colony is the new part and pair the colony it was taken from. united:
// colony is the one that ends and pair the one it was joined to. brood-break:
// with brood no, the day the queen stopped laying (caged or taken out); with
// brood yes, the day she or another laid again. Capped brood is gone three weeks
// after the one and there again nine days after the other. queen-caged and
// queen-released say the same. treatment-end: what lay in the hive came out; with
// active, only that. hived: a swarm or package put into an empty hive; where the
// colony of that name died or was united it is another, and so is a part. renamed:
// colony is the name it has now, pair the one it had; all its rows up to that day
// are told under the new name. signs: crippled wings or sick brood were seen.
//
// # Plans
//
// What is marked planned acts until its day; after it, it acts on nothing until
// a row of the same day, or one with its id in undo_of, says that it was done.
// A row of the days to come without a mark is a plan as well.
//
// # Taking back
//
// No row is ever cut. An undo takes back the row whose id stands in undo_of; any
// other event with undo_of takes the place of that row. The row must stand
// above. One without an id of its own is named by a digest of what it says, see
// Record.Key.
//
// # Columns that a record lacks
//
// When a row needs a column that the record lacks, the whole file is written
// beside with the column at the end of its rows and put in its place in one
// step, but only if every row of it can be told from the next.
//
// # Several rows at once
//
// Rows that are written together are all there or none of them. While they are
// written a file .NAME.adding stands beside the record; one that a killed
// program left is taken up by the next Append, see intent.
//
// A record that is open in a spreadsheet is a copy: saved later, it takes the
// place of the file and of every row that was appended in between. That is why
// the spreadsheet is to be closed before a row is added.
//
// Names of yards, colonies and pairs are the same name in any case and in any
// Unicode composition.
package fieldlog
