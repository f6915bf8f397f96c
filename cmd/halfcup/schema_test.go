package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"halfcup/cmd/halfcup/internal/count"
	"halfcup/cmd/halfcup/internal/keep"
	"halfcup/cmd/halfcup/internal/season"
	"halfcup/cmd/halfcup/internal/treat"

	"halfcup/cmd/internal/figures"
	"halfcup/cmd/internal/say"
	"halfcup/cmd/internal/show"
	"halfcup/sampling"
)

// answers are the answers of all commands, by the name of their schema.
func answers() map[string]any {
	out := map[string]any{}
	for _, group := range []map[string]any{count.Answers(), treat.Answers(), season.Answers(), keep.Answers()} {
		maps.Copy(out, group)
	}
	return out
}

// shape is what may stand in one place of an answer.
type shape struct {
	Type   string   // object, array, string, number, integer, boolean
	Null   bool     // or null
	Format string   // date
	Words  []string // all that a string can be
	Unit   string   // of a number
	What   string   // the comment of its field
	Fields []field  // of an object, in order
	Items  *shape   // of an array
	Length int      // of an array of fixed length
	Of     string   // the type of an object in the code
}

type field struct {
	Name  string
	May   bool // it can be missing
	Shape shape
}

// source is what stands in the code beside the types: the comments of fields,
// and the words a type of strings can have.
type source struct {
	comments map[string]string   // by package.Type.Field
	words    map[string][]string // by package.Type
	says     map[string]string   // of a word, by package.Type.word
}

func readSource(t *testing.T) source {
	s := source{map[string]string{}, map[string][]string{}, map[string]string{}}
	for _, pattern := range []string{"internal/*/*.go", "../internal/*/*.go", "../../decide/*.go", "../../sampling/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || files == nil {
			t.Fatalf("%s: no files: %v", pattern, err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.TypeSpec:
					s.fields(f.Name.Name+"."+n.Name.Name, n.Type)
				case *ast.ValueSpec:
					s.constant(f.Name.Name, n)
				}
				return true
			})
		}
	}
	return s
}

func (s source) fields(of string, e ast.Expr) {
	st, ok := e.(*ast.StructType)
	if !ok {
		return
	}
	for _, f := range st.Fields.List {
		for _, name := range f.Names {
			s.comments[of+"."+name.Name] = strings.Join(strings.Fields(f.Comment.Text()), " ")
		}
	}
}

func (s source) constant(pkg string, v *ast.ValueSpec) {
	name, ok := v.Type.(*ast.Ident)
	if !ok || len(v.Values) != 1 {
		return
	}
	word, ok := v.Values[0].(*ast.BasicLit)
	if !ok || word.Kind != token.STRING {
		return
	}
	text, _ := strconv.Unquote(word.Value)
	key := pkg + "." + name.Name
	s.words[key] = append(s.words[key], text)
	s.says[key+"."+text] = strings.TrimSpace(v.Comment.Text())
}

var (
	dateType   = reflect.TypeFor[sampling.Date]()
	numberType = reflect.TypeFor[show.Number]()
)

// also are the types of strings whose words another type's can be.
var also = map[string]string{"decide.EventKind": "decide.DutyKind"}

// open are the types of strings of which a constant names only some.
var open = []string{"sampling.Method"}

// shapeOf is what encoding/json makes of a type.
func (s source) shapeOf(t reflect.Type, what string) shape {
	out := shape{What: what}
	switch {
	case t == dateType:
		out.Type, out.Format, out.Null = "string", "date", true
	case t == numberType:
		out.Type, out.Null = "number", true
	case t.Kind() == reflect.Pointer:
		out = s.shapeOf(t.Elem(), what)
		out.Null = true
	case t.Kind() == reflect.Slice, t.Kind() == reflect.Array:
		items := s.shapeOf(t.Elem(), "")
		out.Type, out.Items = "array", &items
		if t.Kind() == reflect.Array {
			out.Length = t.Len()
		}
	case t.Kind() == reflect.Struct:
		out.Type, out.Of, out.Fields = "object", t.String(), s.fieldsOf(t)
	case t.Kind() == reflect.String:
		out.Type = "string"
		if words := s.words[t.String()]; !slices.Contains(open, t.String()) {
			out.Words = slices.Concat(words, s.words[also[t.String()]])
		}
	case t.Kind() == reflect.Bool:
		out.Type = "boolean"
	case t.Kind() == reflect.Int:
		out.Type = "integer"
	case t.Kind() == reflect.Float64:
		out.Type = "number"
	default:
		panic("no shape for " + t.String())
	}
	return out
}

func (s source) fieldsOf(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		tag, rest, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case tag == "-" || !f.IsExported() && !f.Anonymous:
			continue
		case f.Anonymous && tag == "":
			if f.Type.Kind() == reflect.Struct {
				out = append(out, s.fieldsOf(f.Type)...)
			}
			continue
		case tag == "":
			panic(t.String() + "." + f.Name + " has no name in JSON")
		}
		out = append(out, field{tag, rest == "omitempty", s.shapeOf(f.Type, s.comments[t.String()+"."+f.Name])})
	}
	return out
}

// schema is an answer with what stands before and after its own fields.
func (s source) schema(name string, answer any) shape {
	out := s.shapeOf(reflect.TypeOf(answer), "")
	warnings := s.shapeOf(reflect.TypeFor[[]say.Warning](), "what a person must not miss")
	warnings.Items.Fields[0].Shape.Words = slices.Concat(s.words["say.WarningKind"], s.words["sampling.WarningKind"])
	out.Fields = slices.Concat(
		[]field{{"schema", false, shape{Type: "string", Words: []string{name}}}}, out.Fields,
		[]field{{"explain", true, shape{Type: "string", What: "with --explain: how the answer came about"}}, {"warnings", false, warnings}})
	return out
}

// json is the shape as JSON Schema (draft 2020-12) has it.
func (s shape) json() map[string]any {
	out := map[string]any{"type": s.Type}
	if s.Null {
		out["type"] = []string{s.Type, "null"}
	}
	if s.Format != "" {
		out["format"] = s.Format
	}
	if s.Words != nil {
		words := []any{}
		for _, w := range s.Words {
			words = append(words, w)
		}
		if s.Null {
			words = append(words, nil)
		}
		out["enum"] = words
	}
	if description := strings.Trim(s.Unit+"; "+s.What, "; "); description != "" {
		out["description"] = description
	}
	if s.Items != nil {
		out["items"] = s.Items.json()
		if s.Length > 0 {
			out["minItems"], out["maxItems"] = s.Length, s.Length
		}
	}
	if s.Type == "object" {
		properties, required := map[string]any{}, []string{}
		for _, f := range s.Fields {
			properties[f.Name] = f.Shape.json()
			if !f.May {
				required = append(required, f.Name)
			}
		}
		out["properties"], out["required"], out["additionalProperties"] = properties, required, false
	}
	return out
}

// faults are where a value of JSON is not of the shape, by JSON Schema's rules
// for the words that shapes use.
func (s shape) faults(at string, v any) []string {
	if v == nil {
		if s.Null {
			return nil
		}
		return []string{at + " is null"}
	}
	wrong := []string{fmt.Sprintf("%s is %T, not %s", at, v, s.Type)}
	switch v := v.(type) {
	case map[string]any:
		if s.Type != "object" {
			return wrong
		}
		var out []string
		seen := 0
		for _, f := range s.Fields {
			inner, there := v[f.Name]
			switch {
			case there:
				seen++
				out = append(out, f.Shape.faults(at+"."+f.Name, inner)...)
			case !f.May:
				out = append(out, at+"."+f.Name+" is missing")
			}
		}
		if seen != len(v) {
			out = append(out, fmt.Sprintf("%s has %d fields, of which %d are in its schema", at, len(v), seen))
		}
		return out
	case []any:
		if s.Type != "array" || s.Length > 0 && s.Length != len(v) {
			return wrong
		}
		var out []string
		for i, inner := range v {
			out = append(out, s.Items.faults(fmt.Sprintf("%s[%d]", at, i), inner)...)
		}
		return out
	case string:
		switch {
		case s.Type != "string":
			return wrong
		case s.Words != nil && !slices.Contains(s.Words, v):
			return []string{fmt.Sprintf("%s is %q, none of %q", at, v, s.Words)}
		}
		if _, err := sampling.ParseDate(v); s.Format == "date" && err != nil {
			return []string{at + " is no date: " + v}
		}
	case float64:
		if s.Type != "number" && !(s.Type == "integer" && v == float64(int(v))) {
			return wrong
		}
	case bool:
		if s.Type != "boolean" {
			return wrong
		}
	}
	return nil
}

// checked is an answer in JSON held against the schema that it names.
func checked(shapes map[string]shape, text []byte) (schema string, faults []string) {
	var answer map[string]any
	if err := json.Unmarshal(text, &answer); err != nil {
		return "", []string{err.Error()}
	}
	schema, _ = answer["schema"].(string)
	s, ok := shapes[schema]
	if !ok {
		return schema, []string{fmt.Sprintf("there is no schema %q", schema)}
	}
	return schema, s.faults("", answer)
}

func readShapes(t *testing.T) map[string]shape {
	s := readSource(t)
	out := map[string]shape{}
	for name, answer := range answers() {
		out[name] = s.schema(name, answer)
	}
	units := readUnits(t)
	for name, of := range out {
		units.put(t, name, &of)
	}
	units.unused(t)
	return out
}

// Every answer has the fields that its schema says, no other, and no value that
// it does not allow. Each schema is met at least once.
func TestAnswersKeepToTheirSchema(t *testing.T) {
	shapes := readShapes(t)
	demo, err := filepath.Abs("../../testdata/demo/mill.csv")
	if err != nil {
		t.Fatal(err)
	}
	mill, err := os.ReadFile(demo)
	if err != nil {
		t.Fatal(err)
	}
	met := map[string]bool{}
	for _, args := range answerLines {
		t.Run(args, func(t *testing.T) {
			t.Chdir(t.TempDir())
			writeFile(t, "halfcup.csv", string(mill))
			writeFile(t, "other.csv", "date,colony,event,method,mites,amount\n2026-06-01,elder,count,wash,3,300\n")
			writeFile(t, "two.csv", "date,yard,colony,event,method,mites,amount\n2025-06-01,mill,elder,count,wash,3,300\n2026-06-01,mill,elder,count,wash,5,300\n2026-06-01,ford,hazel,count,roll,3,300\n")
			writeFile(t, "plans.csv", plannedRows)
			writeFile(t, "bad.csv", "date,colony,event,method,mites,amount\n2026-06-01,elder,count,wash,-3,300\n")
			var out, errs bytes.Buffer
			line := append(strings.Fields(args), "--format", "json")
			if !strings.Contains(args, "--today") {
				line = append(line, "--today", "2026-07-24")
			}
			run(line, strings.NewReader(""), &out, &errs)
			name, faults := checked(shapes, out.Bytes())
			if faults != nil {
				t.Errorf("%s\n%s%.300s", strings.Join(faults, "\n"), errs.String(), out.String())
			}
			met[name] = true
		})
	}
	for name := range shapes {
		if !met[name] {
			t.Errorf("no line asks for %s", name)
		}
	}
}

// answerLines ask for answers of every schema, with what is there and what is
// not.
var answerLines = []string{
	"estimate roll:7/300", "estimate wash:5/312/3f --explain", "estimate board:24/3d knockdown:310/5d --treatment oxalic-trickle", "estimate board:0/1d", "estimate --colony alder",
	"enough roll:7/300", "enough wash:0/300", "enough --colony alder",
	"choose", "choose roll:7/300", "choose wash:90/300", "choose --colony alder",
	"tally", "tally --so-far 100:2", "tally --low 1 --high 3",
	"fits", "fits --colony alder", "fits roll:7/300 --temperature 31",
	"rounds oxalic-vapour", "rounds formic-evaporation", "rounds oxalic-trickle --brood no",
	"worked --before wash:30/300@2026-06-01 --after wash:3/300@2026-07-20", "worked --before wash:30/300 --after wash:3/300", "worked --treatment thymol --killed 800 --follow-up 30",
	"worked --yard mill --today 2026-09-20", "plan --treat 07-28:formic-evaporation", "plan --log plans.csv --today 2026-04-20",
	"forecast roll:7/300", "forecast --colony alder", "calendar", "calendar --yard mill",
	"yard", "yard --yard mill", "yard --yard mill --boards 2", "yard --compare 2025 --log two.csv --yard mill", "yard --plan 20",
	"yard --log other.csv", "yard --log two.csv", "log add --colony alder roll:6/300", "log add --colony alder --event treatment --treatment thymol", "undo", "log list", "log list --treatments",
	"log check", "log check --log bad.csv", "log done", "log merge other.csv", "calibrate", "calibrate --pair roll:18/300,wash:6/300", "sources", "sources recovery",
}

// walk visits every field, with its path: names with dots between, the items of
// an array under the array's own.
func (s *shape) walk(at string, visit func(at string, of *shape)) {
	if s.Items != nil {
		s.Items.walk(at, visit)
		return
	}
	for i := range s.Fields {
		f := &s.Fields[i]
		visit(at+"."+f.Name, &f.Shape)
		f.Shape.walk(at+"."+f.Name, visit)
	}
}
func (s *shape) number() bool {
	return s.Type == "number" || s.Type == "integer" || s.Items != nil && s.Items.number()
}

// units are the units of numbers, by the end of their path: the row that says
// most of the path holds, and of two that say as much the one without a star.
type units struct {
	rows []unitRow
	used map[unitRow]bool
}

type unitRow struct {
	field, unit string
	typed       bool // from the table of figures
}

func readUnits(t *testing.T) units {
	text, err := os.ReadFile("testdata/schema/units.csv")
	if err != nil {
		t.Fatal(err)
	}
	u := units{used: map[unitRow]bool{}}
	for _, l := range strings.Split(strings.TrimSpace(string(text)), "\n")[1:] {
		name, unit, ok := strings.Cut(l, ",")
		if !ok {
			t.Fatalf("units.csv: %s", l)
		}
		u.rows = append(u.rows, unitRow{name, unit, false})
	}
	own := len(u.rows)
	for _, f := range figures.All() {
		name := strings.ReplaceAll(f.Name, "-", "_")
		if f.Number() && f.Unit != "" && !slices.ContainsFunc(u.rows[:own], func(r unitRow) bool { return r.field == name }) {
			u.rows = append(u.rows, unitRow{name, f.Unit, true})
		}
	}
	return u
}

func (u units) put(t *testing.T, name string, of *shape) {
	name = strings.TrimPrefix(name[:strings.Index(name, "/")], "halfcup.")
	of.walk(name, func(at string, s *shape) {
		if !s.number() {
			return
		}
		var best unitRow
		for _, r := range u.rows {
			if fits(r.field, at) && weight(r.field) > weight(best.field) {
				best = r
			}
		}
		if best.field == "" {
			t.Errorf("%s has no unit in testdata/schema/units.csv", at)
		}
		u.used[best] = true
		s.Unit = best.unit
	})
}

// fits reports whether a row is for a path: its parts are the path's last ones.
func fits(field, at string) bool {
	want, have := strings.Split(field, "."), strings.Split(at, ".")
	if len(want) > len(have) {
		return false
	}
	for i, w := range want {
		if ok, _ := path.Match(w, have[len(have)-len(want)+i]); !ok {
			return false
		}
	}
	return true
}

// weight is how much a row says of a path.
func weight(field string) int {
	if field == "" {
		return 0
	}
	w := 100*strings.Count(field, ".") + len(field)
	if !strings.Contains(field, "*") {
		w += 50
	}
	return w
}

// unused complains of rows that no field needs.
func (u units) unused(t *testing.T) {
	for _, r := range u.rows {
		if !r.typed && !u.used[r] {
			t.Errorf("testdata/schema/units.csv: no number takes its unit from %s", r.field)
		}
	}
}

// The schemas and their page are generated from the types of the answers, the
// comments beside their fields, and the units.
func TestSchemasAreGenerated(t *testing.T) {
	shapes := readShapes(t)
	files := map[string]string{"README.md": schemaPage(shapes, readSource(t))}
	for name, s := range shapes {
		j := s.json()
		j["$schema"], j["title"] = "https://json-schema.org/draft/2020-12/schema", name
		text, err := json.MarshalIndent(j, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		short, _, _ := strings.Cut(strings.TrimPrefix(name, "halfcup."), "/")
		files[short+".json"] = string(text) + "\n"
	}
	const dir = "testdata/schema"
	there, err := filepath.Glob(dir + "/*")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range there {
		if _, ok := files[filepath.Base(file)]; !ok && filepath.Base(file) != "units.csv" {
			t.Errorf("%s is of no answer", file)
		}
	}
	for name, want := range files {
		file := filepath.Join(dir, name)
		if *update {
			if err := os.WriteFile(file, []byte(want), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := os.ReadFile(file); err != nil || string(got) != want {
			t.Errorf("%s is not what the answers are: go test ./cmd/halfcup -run Schemas -update (%v)", file, err)
		}
	}
}

// schemaPage lists the schemas with their fields.
func schemaPage(shapes map[string]shape, s source) string {
	var b strings.Builder
	b.WriteString("# Every answer in JSON, field by field\n\nGenerated by `go test ./cmd/halfcup -run Schemas -update` from the types of the answers, the comments beside their fields and `units.csv`; " +
		"the files beside this one say the same in JSON Schema (draft 2020-12). The number behind a schema's name goes up when its shape changes. " +
		"A field of an object, or of the objects in a list, is written `object.field`. Dates are written 2026-08-06, and are null where there is none; of all else *or null* is said. " +
		"What `batch --format json` writes of a row, `{\"schema\": \"halfcup.batch/1\", \"input\": {…}, …}`, has the cells of the row as they came and the answer's columns, which `halfcup batch --help` lists.\n")
	b.WriteString("\n## Kinds of warning\n\n| kind | about |\n|---|---|\n")
	for _, of := range []string{"say.WarningKind", "sampling.WarningKind"} {
		for _, w := range s.words[of] {
			fmt.Fprintf(&b, "| %s | %s |\n", w, s.says[of+"."+w])
		}
	}
	shared := sharedObjects(shapes)
	b.WriteString("\n## Objects of several answers\n")
	for _, name := range slices.Sorted(maps.Keys(shared)) {
		of := shared[name]
		fmt.Fprintf(&b, "\n### %s\n\n%s", heading(name), of.table(shared))
	}
	for _, name := range slices.Sorted(maps.Keys(shapes)) {
		of := shapes[name]
		fmt.Fprintf(&b, "\n## %s\n\n%s", name, of.table(shared))
	}
	return b.String()
}

// heading is what an object is called on the page.
func heading(of string) string {
	_, name, _ := strings.Cut(of, ".")
	var b strings.Builder
	for i, r := range strings.TrimSuffix(name, "JSON") {
		if unicode.IsUpper(r) && i > 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// table lists the fields of an object, those of others within it too but for
// the ones that have a table of their own.
func (s shape) table(shared map[string]shape) string {
	var b strings.Builder
	b.WriteString("| field | is | unit | what |\n|---|---|---|---|\n")
	var list func(at string, s shape)
	list = func(at string, s shape) {
		for _, f := range s.Fields {
			if at == "" && f.Name == "schema" {
				continue
			}
			inner := f.Shape
			for inner.Items != nil {
				inner = *inner.Items
			}
			is := f.Shape.is()
			_, own := shared[inner.Of]
			if own {
				is = strings.Replace(is, "object", heading(inner.Of), 1)
			}
			fmt.Fprintf(&b, "| %s%s | %s | %s | %s |\n", at, f.Name, is, f.Shape.Unit, f.Shape.What)
			if !own {
				list(at+f.Name+".", inner)
			}
		}
	}
	list("", s)
	return b.String()
}

// sharedObjects are the objects that stand in more than one place, and have the
// same fields, with the same units, wherever they do.
func sharedObjects(shapes map[string]shape) map[string]shape {
	met, tables, out := map[string]int{}, map[string]map[string]bool{}, map[string]shape{}
	for _, of := range shapes {
		of.walk("", func(_ string, s *shape) {
			inner := s
			for inner.Items != nil {
				inner = inner.Items
			}
			if inner.Of == "" {
				return
			}
			if tables[inner.Of] == nil {
				tables[inner.Of] = map[string]bool{}
			}
			met[inner.Of]++
			tables[inner.Of][inner.table(nil)] = true
			out[inner.Of] = *inner
		})
	}
	maps.DeleteFunc(out, func(of string, _ shape) bool { return met[of] < 2 || len(tables[of]) > 1 })
	return out
}

// is tells the type of a field.
func (s shape) is() string {
	out := s.Type
	switch {
	case s.Items != nil:
		if out = "list of " + s.Items.is() + "s"; s.Length > 0 {
			out = strconv.Itoa(s.Length) + strings.TrimPrefix(out, "list of")
		}
	case s.Format != "":
		return s.Format // null is said of all dates
	case s.Words != nil:
		out = "one of: " + strings.Join(s.Words, ", ")
	}
	if s.Null {
		out += ", or null"
	}
	return out
}
