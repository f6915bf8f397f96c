package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// chromium is a headless Chromium spoken to over a pipe, as its DevTools
// protocol describes (https://chromedevtools.github.io/devtools-protocol).
type chromium struct {
	in   *os.File
	out  *os.File
	mu   sync.Mutex
	next int
	wait map[int]chan reply
	of   map[string]*browser // whose the sessions of tabs are

	process *os.Process
	ended   chan struct{}
}

// browser is one phone: a profile that shares nothing with the others that may
// be open in the same Chromium.
type browser struct {
	*chromium
	t       *testing.T
	profile string   // "" for the one that Chromium was started with
	said    []string // errors of the console, exceptions, refusals of the policy
	sent    []string // addresses that were asked for
}

// cpu is the time that all processes of the browser have had on processors, which
// other work on the machine changes less than the time that passes. It is 0 where
// there is no /proc.
func (b *chromium) cpu() time.Duration {
	total, family := 0, map[int]bool{b.process.Pid: true}
	stats, _ := filepath.Glob("/proc/[0-9]*/stat")
	parents, ticks := map[int]int{}, map[int]int{}
	for _, name := range stats {
		data, err := os.ReadFile(name)
		if err != nil {
			continue // it has ended meanwhile
		}
		var pid int
		fmt.Sscan(string(data), &pid)
		f := strings.Fields(string(data[strings.LastIndexByte(string(data), ')')+1:]))
		if len(f) < 13 {
			continue
		}
		parents[pid], _ = strconv.Atoi(f[1])
		user, _ := strconv.Atoi(f[11])
		system, _ := strconv.Atoi(f[12])
		ticks[pid] = user + system
	}
	for found := true; found; {
		found = false
		for pid, parent := range parents {
			if family[parent] && !family[pid] {
				family[pid], found = true, true
			}
		}
	}
	for pid := range family {
		total += ticks[pid]
	}
	return time.Duration(total) * 10 * time.Millisecond // a hundred ticks a second
}

// load is how many processes wanted a processor in the last minute.
func load() string {
	data, _ := os.ReadFile("/proc/loadavg")
	of, _, _ := strings.Cut(string(data), " ")
	return of
}

// kill ends it as a crash does.
func (b *chromium) kill() {
	b.process.Kill()
	<-b.ended
}

type reply struct {
	ID     int             `json:"id"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
	Result json.RawMessage `json:"result"`
	Error  *struct {
		Message string `json:"message"`
	} `json:"error"`
	Session string `json:"sessionId"`
}

// tab is one page of it.
type tab struct {
	*browser
	target, session string
}

// shared is the Chromium of all tests that need none for themselves: starting
// one takes longer than most tests.
var shared struct {
	once sync.Once
	dir  string
	*chromium
	err error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if shared.chromium != nil {
		shared.close()
	}
	os.RemoveAll(shared.dir)
	os.Exit(code)
}

// startBrowser opens a phone on which nothing is kept yet, and which keeps
// nothing when the test has ended.
func startBrowser(t *testing.T) *browser {
	t.Helper()
	shared.once.Do(func() {
		if shared.dir, shared.err = os.MkdirTemp("", "halfpage"); shared.err == nil {
			shared.chromium, shared.err = startChromium(shared.dir, asItComes)
		}
	})
	if shared.err != nil {
		t.Fatal(shared.err)
	}
	b := &browser{chromium: shared.chromium, t: t}
	var made struct{ BrowserContextID string }
	b.must("Target.createBrowserContext", map[string]any{}, &made)
	b.profile = made.BrowserContextID
	t.Cleanup(func() { b.must("Target.disposeBrowserContext", map[string]any{"browserContextId": b.profile}, nil) })
	return b
}

// asItComes lets WebAssembly run as it is compiled at first. To compile it once
// more so that it runs faster takes longer than any test that is not timed.
const asItComes = "--js-flags=--liftoff-only"

// startBrowserIn starts a Chromium of its own, with a folder for what it keeps.
func startBrowserIn(t *testing.T, dir string, flags ...string) *browser {
	t.Helper()
	c, err := startChromium(dir, flags...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(c.close)
	return &browser{chromium: c, t: t}
}

func startChromium(dir string, flags ...string) (*chromium, error) {
	toRead, toWrite, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	fromRead, fromWrite, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	cmd := exec.Command("chromium", append(flags, "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--remote-debugging-pipe", "--user-data-dir="+dir, "about:blank")...)
	cmd.ExtraFiles = []*os.File{toRead, fromWrite}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	toRead.Close()
	fromWrite.Close()
	c := &chromium{in: toWrite, out: fromRead, wait: map[int]chan reply{}, of: map[string]*browser{}, process: cmd.Process, ended: make(chan struct{})}
	go func() { cmd.Wait(); close(c.ended) }()
	go c.listen()
	return c, nil
}

// close ends it, and waits until it has.
func (b *chromium) close() {
	b.in.Close()
	select {
	case <-b.ended:
	case <-time.After(10 * time.Second):
		b.kill()
	}
	b.out.Close()
}

func (b *chromium) listen() {
	in := bufio.NewReaderSize(b.out, 1<<20)
	for {
		line, err := in.ReadBytes(0)
		if err != nil {
			return
		}
		var r reply
		if json.Unmarshal(line[:len(line)-1], &r) != nil {
			continue
		}
		b.mu.Lock()
		if c := b.wait[r.ID]; r.ID > 0 && c != nil {
			delete(b.wait, r.ID)
			c <- r
		}
		if of := b.of[r.Session]; of != nil {
			of.told(r)
		}
		b.mu.Unlock()
	}
}

// told keeps what a tab complains of, and what it asks a network for.
func (b *browser) told(r reply) {
	switch r.Method {
	case "Runtime.exceptionThrown", "Log.entryAdded":
		b.said = append(b.said, string(r.Params))
	case "Runtime.consoleAPICalled":
		if strings.Contains(string(r.Params), `"type":"error"`) {
			b.said = append(b.said, string(r.Params))
		}
	case "Network.requestWillBeSent":
		var p struct {
			Request struct{ URL string }
		}
		json.Unmarshal(r.Params, &p)
		if url := p.Request.URL; !strings.HasPrefix(url, "data:") && !strings.HasPrefix(url, "blob:") {
			b.sent = append(b.sent, url)
		}
	}
}

func (b *chromium) do(session, method string, params any) (json.RawMessage, error) {
	b.mu.Lock()
	b.next++
	id := b.next
	c := make(chan reply, 1)
	b.wait[id] = c
	b.mu.Unlock()
	m := map[string]any{"id": id, "method": method, "params": params}
	if session != "" {
		m["sessionId"] = session
	}
	data, err := json.Marshal(m)
	if err != nil {
		return nil, err
	}
	if _, err := b.in.Write(append(data, 0)); err != nil {
		return nil, err
	}
	select {
	case r := <-c:
		if r.Error != nil {
			return nil, fmt.Errorf("%s: %s", method, r.Error.Message)
		}
		return r.Result, nil
	case <-time.After(3 * time.Minute):
		return nil, fmt.Errorf("%s: no answer in three minutes", method)
	}
}

// open opens an address in a new tab of a phone's size, with touch and without
// a network.
func (b *browser) open(url string) *tab {
	b.t.Helper()
	p := b.blank()
	p.go_(url)
	return p
}

// blank is such a tab in which nothing is open yet.
func (b *browser) blank() *tab {
	b.t.Helper()
	p := &tab{browser: b}
	var target struct{ TargetID string }
	where := map[string]any{"url": "about:blank"}
	if b.profile != "" {
		where["browserContextId"] = b.profile
	}
	b.must("Target.createTarget", where, &target)
	p.target = target.TargetID
	var attached struct{ SessionID string }
	b.must("Target.attachToTarget", map[string]any{"targetId": p.target, "flatten": true}, &attached)
	p.session = attached.SessionID
	b.mu.Lock()
	b.of[p.session] = b
	b.mu.Unlock()
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		p.must(domain+".enable", map[string]any{}, nil)
	}
	p.size(390, 844)
	p.must("Emulation.setFocusEmulationEnabled", map[string]any{"enabled": true}, nil) // however many tabs there are
	p.must("Emulation.setTouchEmulationEnabled", map[string]any{"enabled": true}, nil)
	p.must("Network.emulateNetworkConditions", map[string]any{"offline": true, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}, nil)
	return p
}

func (p *tab) size(wide, high int) {
	p.t.Helper()
	p.must("Emulation.setDeviceMetricsOverride", map[string]any{"width": wide, "height": high, "deviceScaleFactor": 2, "mobile": true}, nil)
}

func (p *tab) go_(url string) {
	p.t.Helper()
	p.must("Page.navigate", map[string]any{"url": url}, nil)
	p.until(`document.documentElement?.dataset.ready`)
}

func (p *tab) must(method string, params, into any) {
	p.t.Helper()
	p.mustIn(p.session, method, params, into)
}

// must asks the browser as a whole, and no tab.
func (b *browser) must(method string, params, into any) {
	b.t.Helper()
	b.mustIn("", method, params, into)
}

func (b *browser) mustIn(session, method string, params, into any) {
	b.t.Helper()
	result, err := b.do(session, method, params)
	if err == nil && into != nil {
		err = json.Unmarshal(result, into)
	}
	if err != nil {
		b.t.Fatal(err)
	}
}

// eval is the value of an expression in the page, waited for.
func (p *tab) eval(expression string, into any) {
	p.t.Helper()
	var r struct {
		Result struct {
			Value json.RawMessage
		}
		ExceptionDetails *struct {
			Text      string
			Exception struct{ Description string }
		}
	}
	p.must("Runtime.evaluate", map[string]any{"expression": expression, "awaitPromise": true, "returnByValue": true, "userGesture": true}, &r)
	if e := r.ExceptionDetails; e != nil {
		p.t.Fatalf("%s: %s %s", expression, e.Text, e.Exception.Description)
	}
	if into == nil {
		return
	}
	if r.Result.Value == nil {
		r.Result.Value = json.RawMessage("null")
	}
	if err := json.Unmarshal(r.Result.Value, into); err != nil {
		p.t.Fatalf("%s: %v in %s", expression, err, r.Result.Value)
	}
}

func (p *tab) text(expression string) string {
	p.t.Helper()
	var s string
	p.eval(expression, &s)
	return s
}

// until waits until an expression is true.
func (p *tab) until(expression string) {
	p.t.Helper()
	for end := time.Now().Add(3 * time.Minute); ; time.Sleep(20 * time.Millisecond) {
		var ok bool
		p.eval("!!("+expression+")", &ok)
		if ok {
			return
		}
		if time.Now().After(end) {
			p.t.Fatalf("never true: %s; on the page stands:\n%s", expression, p.text("document.body.innerText"))
		}
	}
}

// tap presses the button with a text, as a finger does.
func (p *tab) tap(label string) {
	p.t.Helper()
	quoted, _ := json.Marshal(label)
	find := `[...document.querySelectorAll("button")].find((b) => b.textContent === ` + string(quoted) + ` || b.querySelector(".name")?.textContent === ` + string(quoted) + `)`
	p.until(find)
	time.Sleep(320 * time.Millisecond) // the page takes what comes at once for the press before
	var at struct{ X, Y float64 }
	p.eval(`(() => { const b = `+find+`; b.scrollIntoView({block: "center"}); const r = b.getBoundingClientRect(); return {X: r.x + r.width / 2, Y: r.y + r.height / 2}; })()`, &at)
	p.touch(at.X, at.Y)
}

func (p *tab) touch(x, y float64) {
	p.t.Helper()
	p.must("Input.dispatchTouchEvent", map[string]any{"type": "touchStart", "touchPoints": []any{map[string]any{"x": x, "y": y}}}, nil)
	p.must("Input.dispatchTouchEvent", map[string]any{"type": "touchEnd", "touchPoints": []any{}}, nil)
}

// photo keeps a picture of the page where the environment asks for it.
func (p *tab) photo(name string) {
	p.t.Helper()
	dir := os.Getenv("HALFPAGE_PHOTOS")
	if dir == "" {
		return
	}
	var shot struct{ Data []byte }
	p.must("Page.captureScreenshot", map[string]any{"format": "png"}, &shot)
	if err := os.WriteFile(dir+"/"+name+".png", shot.Data, 0o644); err != nil {
		p.t.Fatal(err)
	}
}
