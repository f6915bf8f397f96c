package main

import (
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"
)

// before runs a script in the page ahead of its own.
func (p *tab) before(script string) {
	p.t.Helper()
	p.must("Page.addScriptToEvaluateOnNewDocument", map[string]any{"source": script}, nil)
}

const someRow = `{date: "2026-07-25", yard: "mill", colony: "elm", event: "count", method: "roll", mites: "3", amount: "0.5cup", frames: "1"}`

// holdsOnce checks that no row is there twice, and that every one is there that
// was acknowledged.
func holdsOnce(t *testing.T, ids, acknowledged []string) {
	t.Helper()
	seen := map[string]bool{}
	for _, id := range ids {
		if seen[id] {
			t.Errorf("%s is given twice", id)
		}
		seen[id] = true
	}
	for _, id := range acknowledged {
		if !seen[id] {
			t.Errorf("%s was acknowledged and is not there", id)
		}
	}
}

// Two tabs write at once; a tab is closed in the middle of writing. No id is
// given twice, what was acknowledged is there, and rows written together are all
// there or none.
func TestKeptByTwoTabs(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	b := startBrowserIn(t, t.TempDir(), asItComes)
	p, q := b.open(url), b.open(url)
	write := `(async () => { const ids = []; for (let i = 0; i < 20; i++) ids.push((await Store.add([` + someRow + `]))[0].cells.id); return ids; })()`
	both := make(chan []string, 2)
	for _, tab := range []*tab{p, q} {
		go func() {
			var ids []string
			tab.eval(write, &ids)
			both <- ids
		}()
	}
	acknowledged := append(<-both, <-both...)
	p.eval("void Store.add(Array(200).fill("+someRow+"))", nil)
	p.must("Page.navigate", map[string]any{"url": "about:blank"}, nil)
	q.go_(url + "?later")
	var ids []string
	q.eval(`Store.all().then((rows) => rows.map((r) => r.cells.id))`, &ids)
	holdsOnce(t, ids, acknowledged)
	if n := len(ids); n != 40 && n != 240 {
		t.Errorf("%d rows: of 200 written together some are there and some not", n)
	}
	t.Logf("%d rows after a tab was closed while it wrote 200", len(ids))
}

// A store that refuses: the page says so, and answers.
func TestKeptNowhere(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	b := startBrowser(t)
	p := b.open(url)
	p.eval(`document.getElementById("many").value = "2"`, nil)
	p.tap("Make the list")
	p.until(`document.querySelectorAll(".hives li").length === 2`)
	p.eval(`IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); }`, nil)
	p.tap("1")
	p.tap("3")
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	if text := p.text("document.body.innerText"); !strings.Contains(text, "NOT SAVED: this phone did not take the row (it is full).") || strings.Contains(text, "· saved") {
		t.Errorf("a full store is not told:\n%s", text)
	}
	p.photo("6-full")
}

// Without a store, without workers and without a stream that unpacks: an older
// browser, or one that keeps nothing of a local file.
func TestReadyInAnOlderBrowser(t *testing.T) {
	t.Parallel()
	url := pageFile(t)
	p := startBrowser(t).blank()
	p.before(`delete globalThis.DecompressionStream; delete globalThis.Worker; delete globalThis.BroadcastChannel; Object.defineProperty(globalThis, "indexedDB", {get() { throw new DOMException("no", "SecurityError"); }});`)
	p.go_(url)
	if text := p.text("document.body.innerText"); !strings.Contains(text, "This phone keeps nothing here.") {
		t.Errorf("it is not said that nothing is kept:\n%s", text)
	}
	p.eval(`document.getElementById("many").value = "2"`, nil)
	p.tap("Make the list")
	p.tap("2")
	p.tap("9")
	p.tap("OK")
	p.until(`document.querySelector(".big")`)
	if first := p.first(); !strings.HasPrefix(first, "Hive 2, ") {
		t.Errorf("the answer begins %q", first)
	}
	p.photo("7-older")
}

// sixty fills the page with a yard of 60 hives that were counted three times.
const sixty = `(async () => { const rows = []; for (let h = 1; h <= 60; h++) for (const [day, most] of [["2026-05-10", 4], ["2026-06-20", 7], ["2026-07-25", 13]]) rows.push({date: day, yard: "mill", colony: "h" + h, stand: String(h), event: "count", method: "roll", mites: String(h * 7 % most), amount: "0.5cup", frames: "1"}); await Store.add(rows); await reload(); state.day = "2026-07-25"; })()`

// A yard of 60 hives with a season behind it, and nothing beside it on the
// machine: it says how long it takes.
func TestYardOfSixty(t *testing.T) {
	url := pageFile(t)
	b := startBrowserIn(t, t.TempDir())
	p := b.open(url)
	p.eval(sixty, nil)
	p.must("Page.navigate", map[string]any{"url": "about:blank"}, nil)
	p.before(`Date = class extends Date { constructor(...at) { at.length ? super(...at) : super("2026-07-25T12:00:00"); } }; addEventListener("DOMContentLoaded", () => new MutationObserver(() => {
		const rows = document.querySelectorAll(".hives li"), at = Math.round(performance.now()), d = document.documentElement.dataset;
		if (rows.length === 60 && !d.names) d.names = at;
		if (rows.length === 60 && !d.whole && !document.querySelector("[aria-busy]")) d.whole = at;
	}).observe(document.documentElement, {subtree: true, childList: true, attributes: true}))`)
	cpu := b.cpu()
	p.go_(url + "?sixty")
	p.until(`document.documentElement.dataset.whole`)
	t.Logf("a new page with 60 hives: names after %s ms, ready after %s ms, all of it after %s ms; %v of processors; load %s", p.text("document.documentElement.dataset.names"),
		p.text("document.documentElement.dataset.ready"), p.text("document.documentElement.dataset.whole"), b.cpu()-cpu, load())
	for _, hive := range []string{"h2", "h9", "h15", "h21"} {
		p.show("pad/" + hive)
		p.tap("8")
		time.Sleep(400 * time.Millisecond)
		cpu = b.cpu()
		var ms float64
		p.eval(`new Promise((done) => { const t = performance.now(), o = new MutationObserver(() => { if (document.querySelector(".big")) { o.disconnect(); done(performance.now() - t); } }); o.observe(main, {subtree: true, childList: true}); document.querySelector(".pad .ok").click(); })`, &ms)
		t.Logf("from OK to what to do at %s of 60: %.0f ms, %v of processors", hive, ms, b.cpu()-cpu)
	}
	for _, q := range []struct{ what, ask string }{
		{"a yard of 60 hives after a count", `{do: "yard", yard: "mill", day: "2026-07-25"}`},
		{"its season as a picture", `{do: "season", yard: "mill", hive: "h7", day: "2026-07-25"}`},
		{"how to count it next", `{do: "more", yard: "mill", hive: "h7", day: "2026-07-25"}`},
		{"the record to be sent", `{do: "export", yard: ""}`},
		{"a yard of 60 hives on a later day", `{do: "yard", yard: "mill", day: "2026-07-30"}`},
	} {
		cpu = b.cpu()
		var ms float64
		p.eval(`(async () => { const t = performance.now(); await Engine.ask(`+q.ask+`); return performance.now() - t; })()`, &ms)
		t.Logf("%s: %.0f ms, %v of processors; load %s", q.what, ms, b.cpu()-cpu, load())
	}
	p.eval(`state.view = null; location.hash = "#x"; location.hash = "#"`, nil)
	p.until(`document.querySelectorAll(".hives li").length === 60 && !document.querySelector("[aria-busy]")`)
	p.photo("8-sixty")
	p.eval(`location.hash = "#lists"`, nil)
	p.until(`document.querySelectorAll("h2").length === 3`)
	p.photo("9-lists")
	p.eval(`location.hash = "#season/h12"`, nil)
	p.until(`document.querySelector(".picture")`)
	p.photo("10-season")
	p.eval(`location.hash = "#hive/h12"`, nil)
	p.until(`document.querySelector(".big")`)
	p.photo("11-treat")
	p.eval(`location.hash = "#event/h12"`, nil)
	p.until(`document.body.innerText.includes("Gloves off first")`)
	p.photo("12-event")
	p.printed()
	b.quiet(url)
}

// seeing lists what a person could not read, or a screen reader not name: words
// with less than 4.5 to 1 (WCAG 2.2, 1.4.3), fields and buttons without a name.
const seeing = `(() => {
  const out = [];
  const parse = (c) => { const m = c.match(/[\d.]+/g).map(Number); return m.length === 3 ? [...m, 1] : m; };
  const light = ([r, g, b]) => { const f = (v) => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b); };
  const under = (e) => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor); if (c[3] > 0) return c; } return [255, 255, 255, 1]; };
  for (const e of document.querySelectorAll("body *")) {
    if (!e.checkVisibility || !e.checkVisibility()) continue;
    const words = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (words && !["SCRIPT", "NOSCRIPT", "OPTION", "title", "desc"].includes(e.tagName)) {
      const svg = e.namespaceURI.endsWith("svg");
      const a = light(parse(svg ? getComputedStyle(e).fill : getComputedStyle(e).color)), b = light(under(e));
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < 4.5) out.push(ratio.toFixed(2) + " to 1: " + e.textContent.slice(0, 40));
    }
    if (e.tagName === "BUTTON" && !e.textContent.trim()) out.push("a button without a name");
    if (["INPUT", "SELECT", "TEXTAREA"].includes(e.tagName) && !e.labels.length && !e.getAttribute("aria-label") && !document.getElementById(e.getAttribute("aria-labelledby"))?.textContent.trim()) out.push("a field without a name");
    if (e.tagName === "BUTTON" && e.getBoundingClientRect().height < 40) out.push("a low button: " + e.textContent);
  }
  return out;
})()`

// A site opens again when its server is gone.
func TestKeptSite(t *testing.T) {
	t.Parallel()
	dir := os.Getenv("HALFPAGE_SITE")
	if dir == "" {
		t.Skip("no site was built for this test; testdata/page/halfpage.sh does")
	}
	server := httptest.NewServer(http.FileServer(http.Dir(dir)))
	b := startBrowser(t)
	p := b.blank()
	p.must("Network.emulateNetworkConditions", map[string]any{"offline": false, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}, nil)
	p.go_(server.URL + "/")
	p.until(`navigator.serviceWorker.controller`)
	p.eval(`document.getElementById("many").value = "3"`, nil)
	p.tap("Make the list")
	p.until(`document.querySelectorAll(".hives li").length === 3`)
	server.Close()
	p.go_(server.URL + "/")
	p.until(`document.querySelectorAll(".hives li").length === 3`)
	b.quiet(server.URL)
}
