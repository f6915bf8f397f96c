// Package fieldlog keeps a beekeeper's record: it reads the file, checks it
// and appends to it.
//
// # The file
//
// The record is a CSV file that any spreadsheet opens, one row an event. The
// first row names the columns, in any order and case:
//
//	date         the day, 2026-08-06
//	yard         may be empty for a beekeeper with one yard
//	colony       its name; 03 stays 03
//	event        count, treatment, inspection, board-in, split, united, swarmed,
//	             requeened, brood-break, supers-on, supers-off,
//	             drone-brood-removed or died
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
// Only date, colony and event must be there. Columns of other names are the
// beekeeper's own: they are kept and not read. Commas, semicolons or tabs
// separate cells; with semicolons and tabs a decimal comma is read too. Cells
// may be quoted, and a quoted note may hold line breaks.
//
// # The cells of a count
//
// The amount is written as in the count notation: 300, 0.5cup, 120ml, 41g, 3d
// or 36h. Behind a blank may follow what is needed to read it:
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
// brood yes, the day she or another laid again; capped brood follows three
// weeks later. A treatment of the days to come is a planned treatment.
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
