package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// pageFile is the page that is tried in a browser: testdata/page/halfpage.sh
// builds it and names it. Without it there is nothing to try.
func pageFile(t *testing.T) string {
	t.Helper()
	name := os.Getenv("HALFPAGE")
	if name == "" {
		t.Skip("no page was built for this test; testdata/page/halfpage.sh does")
	}
	name, err := filepath.Abs(name)
	if err != nil {
		t.Fatal(err)
	}
	return "file://" + name
}

// quiet fails when the console of the browser had anything to complain of, or
// anything was asked of a network.
func (b *browser) quiet(url string) {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.said {
		b.t.Errorf("the console says: %.600s", s)
	}
	for _, s := range b.sent {
		if !strings.HasPrefix(s, url) {
			b.t.Errorf("the page asked for %s", s)
		}
	}
}

func (p *tab) first() string {
	p.t.Helper()
	return p.text(`document.querySelector(".big")?.textContent || ""`)
}

func (p *tab) rows() int {
	p.t.Helper()
	var n int
	p.eval("state.rows.length", &n)
	return n
}

// The whole way of an evening: an empty page, hives, counts, a call, a reload,
// a copy, and the copy on another phone.
func TestFromNothingToACall(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	b := startBrowser(t)
	start := time.Now()
	p := b.open(url)
	t.Logf("ready after %s ms by the page's clock, %v by ours", p.text("document.documentElement.dataset.ready"), time.Since(start).Round(time.Millisecond))
	p.photo("1-first-use")
	p.eval(`document.getElementById("many").value = "4"`, nil)
	p.tap("Make the list")
	p.until(`document.querySelectorAll(".hives li").length === 4`)
	p.photo("2-yard")
	if !strings.Contains(p.text("main.innerText"), "sugar roll") {
		t.Errorf("the first screen does not say how is counted:\n%s", p.text("main.innerText"))
	}

	// Two taps and the digits of a hive; the next hive opens by itself.
	p.tap("1")
	p.photo("3-pad")
	p.tap("1")
	p.tap("2")
	if got := p.text(`document.querySelector("output").textContent`); got != "12" {
		t.Fatalf("the pad shows %q", got)
	}
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	if first := p.first(); !strings.HasPrefix(first, "Hive 1, ") {
		t.Errorf("the answer begins %q", first)
	}
	if !strings.Contains(p.text("main.innerText"), "saved") || !strings.Contains(p.text("main.innerText"), "Read from the counts on this phone.") {
		t.Errorf("the answer does not say that it is saved, or whence it is:\n%s", p.text("main.innerText"))
	}
	p.photo("4-answer")
	p.tap("How to count next")
	p.until(`document.body.innerText.includes("Was it enough?")`)
	p.photo("5-how")
	before := p.rows()
	p.tap("undo: hive 1, 12 mites")
	p.until(`document.querySelector("output")`)
	if after := p.rows(); after != before-1 {
		t.Errorf("undo leaves %d of %d rows", after, before)
	}
	// A key that is pressed twice within 150 ms counts once.
	var at struct{ X, Y float64 }
	time.Sleep(400 * time.Millisecond)
	p.eval(`(() => { const r = [...document.querySelectorAll(".pad button")].find((b) => b.textContent === "3").getBoundingClientRect(); return {X: r.x + r.width / 2, Y: r.y + r.height / 2}; })()`, &at)
	p.eval(`(() => { const k = [...document.querySelectorAll(".pad button")].find((b) => b.textContent === "3"); k.click(); k.click(); })()`, nil)
	if got := p.text(`document.querySelector("output").textContent`); got != "3" {
		t.Errorf("a sticky key reads %q", got)
	}
	// Over 60 mites asks back.
	p.tap("wipe")
	p.tap("7")
	p.tap("5")
	p.tap("OK")
	if !strings.Contains(p.text("main.innerText"), "75 mites. Is that right?") {
		t.Errorf("75 mites are taken without asking:\n%s", p.text("main.innerText"))
	}
	p.tap("wipe")
	p.tap("3")
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	p.tap("next: hive 2")
	p.tap("0")
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	said := p.first()

	// What is saved is there after the page was closed.
	p.go_(url + "?again#hive/2")
	p.until(`document.querySelector(".big")`)
	if got := p.first(); got != said {
		t.Errorf("after a reload it says %q and said %q before", got, said)
	}
	if got := p.rows(); got != 6 {
		t.Errorf("%d rows after a reload, want 6", got)
	}

	// A hive that is called like markup stays a name.
	p.eval(`location.hash = "#more"`, nil)
	p.until(`document.body.innerText.includes("A new hive")`)
	evil := `<img src=x onerror="document.title='run'"><script>document.title='run'</script>`
	p.eval("document.querySelector('main input').value = "+quote(evil[:58]), nil)
	p.tap("Add")
	p.until(`document.querySelectorAll(".hives li").length === 5`)
	if got := p.text(`document.querySelectorAll(".hives .name")[4].textContent`); got != evil[:58] {
		t.Errorf("the name of the hive became %q", got)
	}

	// The copy, on another phone, twice.
	csv := p.text(`Engine.ask({do: "export", yard: ""}).then((e) => e.csv)`)
	other := startBrowser(t)
	q := other.open(url)
	for round, want := range []string{"7 new rows, 0 here already", "0 new rows, 7 here already"} {
		q.eval(`location.hash = "#more"; location.hash = "#bring"`, nil)
		q.until(`document.querySelector("textarea")`)
		q.eval("document.querySelector('textarea').value = "+quote(csv), nil)
		q.tap("Read them")
		q.until("document.body.innerText.includes(" + quote(want) + ")")
		if round == 0 {
			q.tap("Keep 7 rows")
			q.until(`document.body.innerText.includes("7 rows kept")`)
		}
	}
	q.eval(`location.hash = "#hive/2"`, nil)
	q.until(`document.querySelector(".big")`)
	if got := q.first(); got != said {
		t.Errorf("the other phone says %q, this one %q", got, said)
	}
	if got := q.text("document.title") + p.text("document.title"); strings.Contains(got, "run") {
		t.Error("the name of a hive ran as markup")
	}
	b.quiet(url)
	other.quiet(url)
}

func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\r", `\r`, "<", `\x3c`).Replace(s) + `"`
}
