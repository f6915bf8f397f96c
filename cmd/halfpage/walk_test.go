package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// key presses a key of a keyboard.
func (p *tab) key(name string) {
	p.t.Helper()
	press := map[string]any{"type": "keyDown", "key": name, "code": name}
	switch {
	case len(name) == 1:
		press["text"], press["code"], press["windowsVirtualKeyCode"] = name, "Digit"+name, int(name[0])
	case name == "Enter":
		press["text"], press["windowsVirtualKeyCode"] = "\r", 13
	case name == "Tab":
		press["windowsVirtualKeyCode"] = 9
	case name == "Backspace":
		press["windowsVirtualKeyCode"] = 8
	}
	p.must("Input.dispatchKeyEvent", press, nil)
	p.must("Input.dispatchKeyEvent", map[string]any{"type": "keyUp", "key": name, "code": press["code"], "windowsVirtualKeyCode": press["windowsVirtualKeyCode"]}, nil)
}

// tabTo goes with the tab key to the button of a text, and fails when no number
// of tabs leads there or when nothing shows where one is.
func (p *tab) tabTo(label string) {
	p.t.Helper()
	at := `(() => { const e = document.activeElement; return e.tagName !== "BUTTON" ? "" : (e.querySelector(".name") || e).textContent; })()`
	for range 120 {
		p.key("Tab")
		if p.text(at) != label {
			continue
		}
		if line := p.text(`getComputedStyle(document.activeElement).outlineStyle + " " + getComputedStyle(document.activeElement).outlineWidth`); line != "solid 3px" {
			p.t.Errorf("nothing shows that %q is where the keys go: %s", label, line)
		}
		time.Sleep(320 * time.Millisecond)
		return
	}
	p.t.Fatalf("no tab leads to %q; on the page stands:\n%s", label, p.text("document.body.innerText"))
}

// The whole way without a finger: hives, a count, the next one, back, undo.
func TestPageByKeysAlone(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	b := startBrowser(t)
	p := b.open(url)
	p.key("0")
	time.Sleep(320 * time.Millisecond)
	p.key("Enter")
	p.until(`document.body.innerText.includes("Write a number from 1 to 300")`)
	p.key("Backspace")
	p.key("3")
	if strings.Contains(p.text("document.body.innerText"), "from 1 to 300") {
		t.Error("what was wrong with a field stays after it was mended")
	}
	p.key("Enter")
	p.until(`document.querySelectorAll(".hives li").length === 3`)
	p.tabTo("2")
	p.key("Enter")
	p.until(`document.querySelector("output")`)
	p.key("1")
	p.key("4")
	p.key("Enter")
	p.until(`document.querySelector(".big")`)
	if first := p.first(); !strings.HasPrefix(first, "Hive 2, ") {
		t.Errorf("the answer begins %q", first)
	}
	p.tabTo("next: hive 3")
	p.key("Enter")
	p.until(`document.querySelector("output")`)
	p.key("0")
	p.key("Enter")
	p.until(`document.querySelector(".big")`)
	p.tabTo("undo: hive 3, 0 mites")
	p.key("Enter")
	p.until(`document.querySelector("output")`)
	p.tabTo("back to the yard")
	p.key("Enter")
	p.until(`document.querySelectorAll(".hives li").length === 3`)
	if n := p.rows(); n != 4 {
		t.Errorf("%d rows, want 3 hives and a count", n)
	}
	b.quiet(url)
}

// choose puts a file into the field for files.
func (p *tab) choose(file string) {
	p.t.Helper()
	var found struct {
		Result struct{ ObjectID string }
	}
	p.must("Runtime.evaluate", map[string]any{"expression": `document.querySelector("input[type=file]")`}, &found)
	p.must("DOM.setFileInputFiles", map[string]any{"files": []string{file}, "objectId": found.Result.ObjectID}, nil)
}

// bring reads a file into the page, up to what it says of it.
func (p *tab) bring(file string) string {
	p.t.Helper()
	p.eval(`location.hash = "#more"`, nil)
	p.until(`document.body.innerText.includes("A new hive")`)
	p.tap("Bring rows over")
	p.until(`document.querySelector("input[type=file]")`)
	p.choose(file)
	p.tap("Read them")
	p.until(`document.querySelector("main [role=status]").innerText.trim() || document.querySelector("[role=alert]")`)
	return p.text(`document.querySelector("main").innerText`)
}

// The copy as a file: saved by one page, read by an empty one, read once more
// without doubles; the record of the program; and files that are none.
func TestPageSendsAndReadsFiles(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	b := startBrowser(t)
	p := b.open(url)
	dir := t.TempDir()
	b.must("Browser.setDownloadBehavior", map[string]any{"behavior": "allow", "downloadPath": dir, "browserContextId": b.profile}, nil)
	p.eval(`document.getElementById("many").value = "3"`, nil)
	p.tap("Make the list")
	p.tap("1")
	p.tap("7")
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	said := p.first()
	p.eval(`location.hash = "#send"`, nil)
	p.tap("Save the file")
	var file string
	for end := time.Now().Add(30 * time.Second); file == "" && time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if found, _ := filepath.Glob(filepath.Join(dir, "halfcup-*.csv")); len(found) == 1 {
			file = found[0]
		}
	}
	if file == "" {
		t.Fatal("no file was saved")
	}
	p.until(`document.body.innerText.includes("Handed over: ")`)
	sent, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if want := p.text(`Engine.ask({do: "export", yard: ""}).then((e) => e.csv)`); string(sent) != want {
		t.Errorf("the file holds\n%s\nand the record is\n%s", sent, want)
	}
	p.eval(`location.hash = "#"`, nil)
	p.until(`document.body.innerText.includes("all sent")`)
	b.quiet(url)

	other := startBrowser(t)
	q := other.open(url)
	q.tap("Bring rows over")
	q.until(`document.querySelector("input[type=file]")`)
	q.choose(file)
	q.tap("Read them")
	q.tap("Keep 4 rows")
	q.until(`document.body.innerText.includes("4 rows kept")`)
	if text := q.bring(file); !strings.Contains(text, "0 new rows, 4 here already") {
		t.Errorf("the same file once more says\n%s", text)
	}
	q.eval(`location.hash = "#hive/1"`, nil)
	q.until(`document.querySelector(".big")`)
	if got := q.first(); got != said {
		t.Errorf("the other phone says %q, this one %q", got, said)
	}

	// The record of the program, with columns of its own.
	demo, err := filepath.Abs(filepath.Join("..", "..", "testdata", "demo", "mill.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if text := q.bring(demo); !strings.Contains(text, "new rows, 0 here already") || strings.Contains(text, "cannot be read") {
		t.Errorf("the record of the program is read as\n%s", text)
	}

	// Files that are none, and one with a row that cannot be read.
	before := q.rows()
	for name, tc := range map[string]struct{ text, want string }{
		"empty":   {"", "There is nothing to read yet"},
		"windows": {"date,yard,colony,event,method,mites,amount\n2026-07-25,mill,H\xfctte,count,roll,3,300\n", "not written in UTF-8"},
		"picture": {"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\xff\xfe\x00", ""},
		"letter":  {"Dear all,\nelm had 3 mites.\n", ""},
		"quote":   {"date,yard,colony,event,method,mites,amount\n2026-07-25,mill,\"elm,count,roll,3,300\n", "line 2: the row is torn"},
		"day":     {"date,yard,colony,event,method,mites,amount\n2026-13-45,mill,elm,count,roll,3,300\n2026-07-25,mill,elm,count,roll,many,300\n2026-07-26,mill,elm,count,roll,3,300\n", "These rows cannot be read:"},
	} {
		file := filepath.Join(dir, name+".csv")
		if err := os.WriteFile(file, []byte(tc.text), 0o600); err != nil {
			t.Fatal(err)
		}
		text := q.bring(file)
		if !strings.Contains(text, tc.want) {
			t.Errorf("%s: the page says\n%s", name, text)
		}
		alert := q.text(`document.querySelector("[role=alert]")?.innerText || ""`)
		if alert == "" && !strings.Contains(text, "These rows cannot be read:") {
			t.Errorf("%s: nothing is said of what is wrong with it:\n%s", name, text)
		}
		t.Logf("%s: %s", name, alert)
		if q.rows() != before {
			t.Errorf("%s: rows were kept of it", name)
		}
	}

	// Names and notes that look like markup, on every screen.
	evil := `<img src=x onerror=document.title='run'>`
	file = filepath.Join(dir, "evil.csv")
	text := "date,yard,colony,event,method,mites,amount,note\n2026-07-25," + evil + "," + evil + ",count,roll,3,300," + evil + "\n2026-07-26," + evil + "," + evil + ",inspection,,,," + evil + "\n"
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	q.bring(file)
	q.tap("Keep 2 rows")
	q.until(`document.body.innerText.includes("2 rows kept")`)
	q.eval(`state.yard = `+quote(evil)+`; state.day = "2026-07-30"; state.view = null`, nil)
	for _, screen := range append(screens, "pad/", "hive/", "season/", "scoops/", "event/") {
		if strings.HasSuffix(screen, "/") {
			screen += "%3Cimg%20src%3Dx%20onerror%3Ddocument.title%3D'run'%3E"
		} else if strings.Contains(screen, "/") {
			continue
		}
		q.show(screen)
		var bad int
		q.eval(`document.querySelectorAll("main img, main script").length`, &bad)
		if bad > 0 || q.text("document.title") == "run" {
			t.Errorf("on the screen %q a name became markup", screen)
		}
	}
	other.quiet(url)
}

// screens are all of the page, with a hive h12.
var screens = []string{"", "visit", "pad/h12", "hive/h12", "scoops/h12", "season/h12", "lists", "event/h12", "more", "send", "bring", "settings"}

// show opens a screen and waits until all of it is there.
func (p *tab) show(screen string) {
	p.t.Helper()
	p.eval(`main.replaceChildren(); location.hash.replace("#", "") === `+quote(screen)+` ? void route() : location.hash = `+quote("#"+screen), nil)
	p.until(`main.children.length > 0 && !main.innerText.includes(say("working")) && !document.querySelector("[aria-busy]")`)
	time.Sleep(50 * time.Millisecond)
}

// Every screen, by day and by night: words that can be read, buttons and fields
// with names, and nothing too wide with letters of twice the size. axe-core
// (Mozilla Public License 2.0) looks at it too, as a person with a screen reader or
// weak eyes meets it; testdata/page/halfpage.sh fetches it and names its file.
func TestPageForEverybody(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	b := startBrowser(t)
	p := b.open(url)
	var axe []byte
	if name := os.Getenv("HALFPAGE_AXE"); name != "" {
		var err error
		if axe, err = os.ReadFile(name); err != nil {
			t.Fatal(err)
		}
	} else {
		t.Log("axe-core is not here and looks at nothing; testdata/page/halfpage.sh fetches it")
	}
	look := func(what string) {
		t.Helper()
		var found []string
		p.eval(seeing, &found)
		for _, f := range found {
			t.Errorf("%s: %s", what, f)
		}
		if axe == nil {
			return
		}
		p.eval(`axe.run(document, {resultTypes: ["violations"]}).then((r) => r.violations.map((v) => v.impact + ": " + v.help + ": " + v.nodes.map((n) => n.html.slice(0, 120)).slice(0, 3).join(" | ")))`, &found)
		for _, f := range found {
			if strings.HasPrefix(f, "serious") || strings.HasPrefix(f, "critical") {
				t.Errorf("%s: %s", what, f)
			} else {
				t.Logf("%s: %s", what, f)
			}
		}
	}
	if axe != nil {
		p.eval(string(axe)+"; 0", nil)
		// That it finds anything at all.
		var faults int
		p.eval(`(async () => { const e = document.createElement("div"); e.innerHTML = "<button></button><p>pale</p><input>"; e.querySelector("p").style.color = "#ccc"; main.append(e); const r = await axe.run(e, {resultTypes: ["violations"]}); e.remove(); return r.violations.length; })()`, &faults)
		if faults < 2 {
			t.Errorf("a nameless button, a nameless field and pale letters give %d findings", faults)
		}
	}
	look("first use")
	p.eval(sixty, nil)
	for _, scheme := range []string{"light", "dark"} {
		p.must("Emulation.setEmulatedMedia", map[string]any{"features": []any{map[string]any{"name": "prefers-color-scheme", "value": scheme}}}, nil)
		for _, screen := range screens {
			p.show(screen)
			look(scheme + " " + screen)
			if screen == "pad/h12" || screen == "hive/h12" && scheme == "dark" {
				p.photo(fmt.Sprintf("13-%s-%s", scheme, strings.ReplaceAll(screen, "/", "-")))
			}
			var wide, most int
			p.eval(`document.documentElement.style.fontSize = "225%"; document.documentElement.scrollWidth`, &wide)
			p.eval(`innerWidth + 1`, &most)
			if wide > most {
				t.Errorf("letters of twice the size, %s: %d wide", screen, wide)
			}
			p.eval(`document.documentElement.style.fontSize = ""`, nil)
		}
		p.show("hive/h12")
		p.tap("How to count next")
		p.until(`document.body.innerText.includes("Was it enough?")`)
		look(scheme + " how to count next")
	}
	p.show("pad/h5")
	p.tap("8")
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	look("an answer")
	p.show("settings")
	p.eval(`document.querySelectorAll("input")[0].value = "99-99"`, nil)
	p.tap("Save")
	p.until(`document.querySelector("[role=alert]")`)
	look("a field that is wrong")
	b.quiet(url)
}

// A browser that is killed while it writes: what it acknowledged is there when it
// is started again, and rows written together are all there or none.
func TestKeptWhenKilled(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	dir := t.TempDir()
	b := startBrowserIn(t, dir, asItComes)
	p := b.open(url)
	var acknowledged []string
	p.eval(`(async () => { const ids = []; for (let i = 0; i < 10; i++) ids.push((await Store.add([`+someRow+`]))[0].cells.id); for (let i = 0; i < 40; i++) void Store.add(Array(25).fill(`+someRow+`)); return ids; })()`, &acknowledged)
	b.kill()
	q := startBrowserIn(t, dir, asItComes).open(url)
	var ids []string
	q.eval(`Store.all().then((rows) => rows.map((r) => r.cells.id))`, &ids)
	holdsOnce(t, ids, acknowledged)
	if n := len(ids); n < 10 || (n-10)%25 != 0 {
		t.Errorf("%d rows: of 25 written together some are there and some not", n)
	}
	t.Logf("%d rows after the browser was killed", len(ids))
}

// printed looks at a yard of sixty as a printed sheet: every hive, and none of
// the buttons.
func (p *tab) printed() {
	p.t.Helper()
	p.show("")
	var pdf struct{ Data []byte }
	p.must("Page.printToPDF", map[string]any{"paperWidth": 8.27, "paperHeight": 11.69}, &pdf)
	if !bytes.HasPrefix(pdf.Data, []byte("%PDF")) {
		p.t.Error("nothing is printed")
	}
	p.must("Emulation.setEmulatedMedia", map[string]any{"media": "print"}, nil)
	text := p.text("main.innerText")
	for _, want := range []string{"h60", "What to do", "Mites"} {
		if !strings.Contains(text, want) {
			p.t.Errorf("%q is not on the sheet:\n%s", want, text)
		}
	}
	if strings.Contains(text, "Write down") || strings.Count(text, "\n") > 200 {
		p.t.Errorf("more than the sheet is printed:\n%s", text)
	}
}
