package keep

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"halfcup/cmd/halfcup/internal/ask"
	"halfcup/cmd/halfcup/internal/line"
	"halfcup/cmd/internal/fieldlog"
	"halfcup/cmd/internal/show"
)

const logRenameExample = `halfcup log rename alder "old alder"`

func logRenameCommand(sh *line.Shell) *cli.Command {
	return &cli.Command{
		Name:      "rename",
		Usage:     "give a colony another name",
		ArgsUsage: "OLD NEW",
		UsageText: logRenameExample,
		Description: "Adds a row that says how a colony is called from now on. No other row is changed, and all commands tell what stood there under the new name. " +
			"The old name is free for another colony from the day after.",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "yard", Usage: "the yard `NAME` of the colony"},
			&cli.StringFlag{Name: "date", Usage: "the `DAY` of the change", DefaultText: "today"},
		},
		Action: func(c *cli.Context) error {
			if sh.Explain {
				return line.NothingToExplain()
			}
			if c.NArg() != 2 {
				return line.TooFew("a colony is renamed by its old name and its new one", logRenameExample)
			}
			r, err := ask.ReadRules(sh, c)
			if err != nil {
				return err
			}
			if _, err := ask.NeedRecord(sh, "a colony"); err != nil {
				return err
			}
			rec, err := sh.Record()
			if err != nil {
				return err
			}
			old, err := rec.Find(c.String("yard"), c.Args().Get(0))
			if err != nil {
				return err
			}
			name := c.Args().Get(1)
			if fieldlog.SameName(name) == fieldlog.SameName(old.Name) {
				return &show.Problem{What: fmt.Sprintf("%s and %s are one name: capitals and blanks make no other", old.Name, name), Remedy: "give another name"}
			}
			if there, err := rec.Find(old.Yard, name); err == nil && fieldlog.SameName(there.Yard) == fieldlog.SameName(old.Yard) {
				return &show.Problem{What: fmt.Sprintf("there is a colony %s already", there.Name), Remedy: "give a name that no colony of the yard has had; if the two were put together: halfcup add united " + old.Name + " --other " + there.Name}
			}
			e := fieldlog.Event{Date: sh.Today, Yard: old.Yard, Colony: name, Kind: fieldlog.Renamed, Other: old.Name}
			if c.IsSet("date") {
				if e.Date, err = line.Date(c, "date"); err != nil {
					return err
				}
				if e.Date > sh.Today {
					return line.BadValue("date", c.String("date"), "this day lies ahead", "a name changes on a day that has come")
				}
			}
			return write(sh, c, r, []fieldlog.Event{e}, nil)
		},
	}
}
