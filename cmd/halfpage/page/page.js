// The page: a screen for each thing to do. Nothing that a person or a file wrote
// is ever read as markup: text goes in as text, and pictures through a reader
// that lets nothing but shapes through.
const state = {
  yard: "", rows: [], lists: null, view: null, visit: { method: "roll", measure: "0.5cup", frames: 1, days: 3 },
  day: "", settings: {}, last: null, ready: false, warm: false, lastExport: "",
};
const main = document.getElementById("main");

// Building.

function el(tag, attributes, ...children) {
  const e = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes || {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") e.addEventListener("click", value);
    else if (name === "value" || name === "checked" || name === "selected") e[name] = value;
    else e.setAttribute(name, value === true ? "" : String(value));
  }
  e.append(...children.flat().filter((c) => c !== null && c !== undefined && c !== false && c !== ""));
  return e;
}
const button = (text, on, more) => el("button", { type: "button", on: once(on), ...more }, text);
const field = (text, input) => el("label", {}, el("span", {}, text), input);
const choice = (options, value, on) => el("select", { on: undefined }, options.map(([v, text]) => el("option", { value: v, selected: v === value }, text)));

// beside says what is wrong with a field, under it, and takes it away again when
// the field is changed.
function beside(input, words) {
  const id = "wrong-" + (input.id || (input.id = "field-" + String(Math.random()).slice(2)));
  const old = document.getElementById(id);
  if (old) old.remove();
  const told = el("span", { class: "warn", role: "alert", id }, words);
  input.after(told);
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", id);
  const right = () => { told.remove(); input.removeAttribute("aria-invalid"); input.removeAttribute("aria-describedby"); };
  input.addEventListener("input", right, { once: true });
  input.focus();
}

// onEnter lets the key that ends a line of writing do what a button does.
const onEnter = (input, on) => { input.addEventListener("keydown", (e) => { if (e.key === "Enter") { e.preventDefault(); on(); } }); return input; };

// once lets a sticky finger press a button one time: what comes within 150 ms of
// the press before, or within 300 ms of a new screen, is the same press.
let shownAt = 0;
function once(on) {
  let before = -1e9;
  return (e) => {
    const now = performance.now();
    if (now - before < 150 || now - shownAt < 300) return;
    before = now;
    Promise.resolve(on(e)).catch((why) => { if (why !== GONE) note(why.message || String(why)); });
  };
}

const SHAPES = new Set(["svg", "title", "desc", "rect", "path", "circle", "text"]);

// picture makes the engine's picture part of the page, shapes and words only.
function picture(svg) {
  if (!svg) return null;
  const root = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
  const all = [root, ...root.querySelectorAll("*")];
  const safe = all.every((e) => SHAPES.has(e.localName) && e.namespaceURI === "http://www.w3.org/2000/svg" && [...e.attributes].every((a) => !/^on|href|style/i.test(a.name)));
  return safe ? el("div", { class: "picture" }, document.importNode(root, true)) : null;
}

function show(...children) {
  main.replaceChildren(...children.flat().filter(Boolean));
  shownAt = performance.now();
  window.scrollTo(0, 0);
  main.focus({ preventScroll: true });
  turn++;
  if (state.ready && !document.documentElement.dataset.ready) document.documentElement.dataset.ready = String(Math.round(performance.now()));
}

// ask puts a question for the screen that is shown. When another is shown before
// the answer comes, it throws GONE: nobody waits for it any more.
const GONE = new Error("another screen is shown");
let turn = 0;
async function ask(question) {
  const mine = turn, answer = await Engine.ask(question);
  if (mine !== turn) throw GONE;
  return answer;
}

function note(text) { document.getElementById("note").textContent = text || standing(); }
const standing = () => Store.keeps() ? (Store.memory() ? say("notKept", { why: "" }).replace(" ()", "") : "") : say("noStore");

// Days.

const iso = (d) => `${d.getFullYear()}-${String(d.getMonth() + 1).padStart(2, "0")}-${String(d.getDate()).padStart(2, "0")}`;
const dayBefore = (n) => { const d = new Date(); d.setDate(d.getDate() - n); return iso(d); };
const today = () => state.day || iso(new Date());
const spoken = (day) => new Date(day + "T12:00:00").toLocaleDateString("en-GB", { day: "numeric", month: "short" });

// Units: the engine says cups and degrees Celsius.
function units(text) {
  let out = String(text);
  if (state.settings.unit === "ml") out = out.replace(/half a cup/g, "120 mL").replace(/one cup/g, "240 mL").replace(/half cup/g, "120 mL");
  if (state.settings.warmth === "f") out = out.replace(/(\d+) °C/g, (_, c) => `${Math.round(Number(c) * 9 / 5 + 32)} °F`);
  return out;
}

const isFall = (m) => (state.lists.methods.find((x) => x.name === m) || {}).fall;
function measureText() {
  const v = state.visit;
  if (isFall(v.method)) return v.days === 1 ? say("day") : say("days", { n: v.days });
  return { "0.5cup": say("halfCup"), "1cup": say("oneCup"), "120ml": say("ml120"), "240ml": say("ml240") }[v.measure] || say("bees", { n: v.measure });
}
function visitText() {
  const v = state.visit, title = (state.lists.methods.find((m) => m.name === v.method) || {}).title || v.method;
  const parts = [title, measureText()];
  if (!isFall(v.method)) parts.push(say(v.frames === 1 ? "frame" : "frames", { n: v.frames }));
  return parts.join(" · ");
}

// called is a hive as a sentence names it: "undo: 1, 7 mites" would be two figures.
const called = (hive) => (/^[0-9]+$/.test(hive) ? say("hive", { n: hive }) : hive);

// Rows.

const unsent = () => state.rows.filter((r) => !r.sent);

async function reload() {
  state.rows = await Store.all();
  const opened = await Engine.ask({ do: "open", rows: state.rows.map((r) => r.cells), settings: engineSettings() });
  if (!opened.yards.includes(state.yard)) state.yard = opened.yards[0] || "";
  state.yards = opened.yards;
}

function engineSettings() {
  const s = state.settings;
  return { hemisphere: s.hemisphere || "", year: s.year || "", most_brood: s.most_brood || "", starts: s.starts || {}, lines: s.lines || "", act: Number(s.act) || 0, co2: !!s.co2 };
}

// keep writes rows and tells the engine. What the store refuses stays in the
// page, and the page says so: saved is only what is saved.
async function keep(rows, how) {
  const by = state.settings.by;
  const list = rows.map((r) => (by && !r.by && !(how && how.foreign) ? { ...r, by } : r));
  let kept, saved = Store.keeps();
  try {
    kept = await Store.add(list, how);
  } catch (e) {
    saved = false;
    kept = await Store.lose(list);
    note(say("notKept", { why: e && e.name === "QuotaExceededError" ? say("full") : (e && e.name) || "?" }));
  }
  state.rows.push(...kept);
  await Engine.ask({ do: "keep", rows: kept.map((r) => r.cells) });
  return { kept, saved };
}

async function takeBack(rows) {
  const fresh = rows.filter((r) => !r.sent);
  await Store.remove(fresh.map((r) => r.at));
  state.rows = state.rows.filter((r) => !fresh.includes(r));
  await Engine.ask({ do: "drop", ids: fresh.map((r) => r.cells.id) });
  const gone = rows.filter((r) => r.sent && r.cells.id);
  if (gone.length) {
    await keep(gone.map((r) => ({ date: r.cells.date, yard: r.cells.yard || "", colony: r.cells.colony, event: state.lists.undo, note: "taken back", undo_of: r.cells.id })));
  }
}

// Screens.

function firstUse() {
  const many = el("input", { id: "many", "aria-labelledby": "how-many", inputmode: "numeric", autocomplete: "off" });
  const name = el("input", { autocomplete: "off", maxlength: 60 });
  const make = async () => {
    const n = Number(many.value);
    if (!Number.isInteger(n) || n < 1 || n > 300) { beside(many, say("howManyWrong")); return; }
    const rows = [];
    for (let i = 1; i <= n; i++) rows.push({ date: today(), yard: name.value.trim(), colony: String(i), event: "inspection", stand: String(i) });
    try {
      const checked = await Engine.ask({ do: "check", rows, again: true });
      await keep(checked.rows);
    } catch (e) { beside(e.column === "yard" ? name : many, e.message); return; }
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
    state.yard = name.value.trim();
    await Store.set("yard", state.yard);
    go("");
  };
  onEnter(many, make);
  onEnter(name, make);
  const phone = location.protocol === "https:" && !matchMedia("(display-mode: standalone)").matches && !navigator.standalone;
  show(phone ? el("p", { class: "warn" }, say("homeFirst")) : null,
    el("h1", { class: "big", id: "how-many" }, say("howMany")), many, field(say("yardName"), name),
    el("p", { class: "soft" }, say("about")),
    el("div", { class: "row" }, button(say("make"), make), button(say("bring"), () => go("bring"))));
  many.focus();
}

// names is which hives there are, with what was last said of them: it is there at
// once, whatever has to be worked out.
async function names() {
  const v = await ask({ do: "hives", yard: state.yard, day: today() });
  const before = state.view && state.view.yard === v.yard && state.view.day === v.day ? state.view : null;
  if (before) {
    v.hives = v.hives.map((h) => before.hives.find((o) => o.name === h.name) || h);
    v.late = before.late; v.supers = before.supers;
  }
  v.whole = false;
  return state.view = v;
}

// workOut asks for a yard part by part: what is tapped meanwhile is answered
// between two of them.
async function workOut(draw) {
  for (let from = 0, more = state.view.hives.length > 0; more;) {
    const p = await ask({ do: "part", yard: state.yard, day: today(), from });
    p.hives.forEach(draw);
    from = p.next;
    more = from > 0;
  }
  return state.view = { ...await ask({ do: "yard", yard: state.yard, day: today() }), whole: true };
}

// hiveRow is a row of the list, with how to draw it anew: its button stays, for a
// finger may be on it.
function hiveRow(h) {
  const todo = el("span", { class: "do" }), mark = el("span", { class: "mark", "aria-hidden": "true" });
  const b = el("button", { type: "button", on: once(() => go("pad", h.name)) }, el("span", { class: "name" }, h.name), todo, mark);
  const draw = (now) => {
    b.className = (now.counted ? "counted " : "") + (now.late ? "late" : "");
    todo.textContent = now.do ? units(now.do) : "…";
    mark.textContent = now.late || (now.today && now.treats) ? "!" : "";
  };
  draw(h);
  return { item: el("li", {}, b), draw };
}

async function yardScreen() {
  const v = await names(), n = unsent().length;
  const rows = new Map(v.hives.map((h) => [h.name, hiveRow(h)]));
  const list = el("ul", { class: "hives noprint", "aria-label": v.yard || say("yard"), "aria-busy": "true" }, [...rows.values()].map((r) => r.item));
  const late = button(say("working"), () => go("lists"), { class: "plain" }), supers = el("span", {}), paper = el("div", {});
  show(
    el("div", { class: "head" }, el("h1", {}, v.yard || say("yard")),
      button(spoken(today()), () => go("visit"), { class: "plain" }), button(units(visitText()), () => go("visit"), { class: "plain" })),
    el("div", { class: "head noprint" }, late, supers, button(n ? say("notSent", { n }) : say("allSent"), () => go("send"), { class: "plain" })),
    list,
    el("div", { class: "row noprint" }, button(say("events"), () => go("event")), button(say("more"), () => go("more"))),
    state.last ? el("div", { class: "foot noprint" }, undoLast()) : null,
    paper);
  const all = await workOut((h) => rows.get(h.name).draw(h)), behind = all.late.filter((d) => d.late > 0).length;
  all.hives.forEach((h) => rows.get(h.name).draw(h));
  late.textContent = behind ? say("late", { n: behind }) : say("nothingLate");
  supers.textContent = all.supers ? say(all.supers === "on" ? "supersOn" : "supersOff") : "";
  paper.replaceChildren(sheet(all));
  list.removeAttribute("aria-busy");
  // A browser compiles what it runs for the first time. One question as a count
  // would ask it, before there is one, makes the first answer as quick as others.
  if (!state.warm && v.hives.length) {
    state.warm = true;
    await Engine.ask({ do: "scoops", yard: state.yard, hive: v.hives[0].name, day: today(), rows: [countRow(v.hives[0].name, 0)] }).catch(() => {});
  }
}

// undoLast takes the last count back; it stays until the next count.
function undoLast() {
  const { rows, hive } = state.last;
  return button(say("undoCount", { hive: called(hive), n: rows.map((r) => r.cells.mites).join(" + ") }), async () => {
    state.last = null;
    await takeBack(rows);
    go("pad", hive, true);
  });
}

function sheet(v) {
  const due = (name) => [...v.late, ...v.ahead].filter((d) => d.hive === name).slice(0, 2).map((d) => `${d.day_text}: ${d.what}`).join("; ");
  return el("table", { class: "sheet" },
    el("caption", {}, spoken(today()) + " · " + units(visitText())),
    el("thead", {}, el("tr", {}, ["sheetHive", "sheetDo", "sheetDue", "sheetMites", "sheetNote"].map((k) => el("th", { scope: "col" }, say(k))))),
    el("tbody", {}, v.hives.map((h) => el("tr", {}, el("td", {}, h.name), el("td", {}, units(h.do)), el("td", {}, due(h.name)), el("td", {}), el("td", {})))));
}

function visitScreen() {
  const v = state.visit;
  const pick = (list, now, on) => el("div", { class: "row" }, list.map(([value, text]) => button(text, () => { on(value); Store.set("visit", v).catch(() => {}); visitScreen(); }, { "aria-pressed": String(value === now) })));
  const ml = state.settings.unit === "ml";
  const own = el("input", { type: "date", value: today(), max: iso(new Date()), "aria-label": say("otherDay") });
  own.addEventListener("change", () => { if (own.value) { state.day = own.value; visitScreen(); } });
  const bees = el("input", { inputmode: "numeric", value: /^\d+$/.test(v.measure) ? v.measure : "", placeholder: "300", "aria-label": say("bees", { n: "" }) });
  bees.addEventListener("change", () => { if (/^\d{1,4}$/.test(bees.value)) { v.measure = bees.value; Store.set("visit", v).catch(() => {}); visitScreen(); } });
  show(el("h1", {}, say("visit")),
    el("h2", {}, say("when")), pick([["", say("today")], [dayBefore(1), say("yesterday")]], state.day, (d) => { state.day = d; }), field(say("otherDay"), own),
    el("h2", {}, say("method")), pick(state.lists.methods.filter((m) => m.name !== "co2" || state.settings.co2).map((m) => [m.name, m.title]), v.method, (m) => { v.method = m; }),
    isFall(v.method)
      ? [el("h2", {}, say("lies")), pick([1, 2, 3, 5, 7].map((n) => [n, String(n)]), v.days, (n) => { v.days = n; })]
      : [el("h2", {}, say("measure")), pick(ml ? [["120ml", say("ml120")], ["240ml", say("ml240")]] : [["0.5cup", say("halfCup")], ["1cup", say("oneCup")]], v.measure, (m) => { v.measure = m; }), field(say("bees", { n: "" }), bees),
        el("h2", {}, say("framesOf")), pick([1, 2, 3].map((n) => [n, String(n)]), v.frames, (n) => { v.frames = n; })],
    el("div", { class: "foot" }, button(say("done"), () => go(""))));
}

function countRow(hive, mites) {
  const v = state.visit, fall = isFall(v.method);
  return { date: today(), yard: state.yard, colony: hive, event: "count", method: v.method, mites: String(mites), amount: fall ? v.days + "d" : v.measure, frames: fall ? "" : String(v.frames) };
}

let typed = null; // takes keys of a keyboard while a pad is shown

// pad is the keys. onOK gets the number; note that it may be asked back.
function padOf(onOK) {
  let text = "", asked = false;
  const shown = el("output", { "aria-live": "polite", "aria-label": say("mites") });
  const told = el("span", {}, say("type"));
  const draw = () => {
    shown.textContent = text;
    told.textContent = text === "" ? say("type") : asked ? say("tooMany", { n: text }) : say("mites");
    ok.textContent = asked ? say("yes", { n: text }) : say("ok");
  };
  const digit = (d) => { text = text === "0" ? d : text + d; asked = false; if (text.length > 4) { text = text.slice(0, 4); told.textContent = say("tooManyDigits"); return; } draw(); };
  const wipe = () => { text = ""; asked = false; draw(); };
  let askedAt = 0;
  const accept = () => {
    if (text === "") return;
    if (Number(text) > 60 && !asked) { asked = true; askedAt = performance.now(); draw(); return; }
    if (asked && performance.now() - askedAt < 400) return;
    onOK(Number(text), wipe);
  };
  const key = (d) => el("button", { type: "button", class: d === "0" ? "zero" : null, on: once(() => digit(d)) }, d);
  const ok = button(say("ok"), accept, { class: "ok" });
  typed = (e) => {
    if (e.target.closest("input,textarea,select") || e.ctrlKey || e.metaKey || e.altKey) return;
    if (/^[0-9]$/.test(e.key)) { if (!e.repeat) digit(e.key); } else if (e.key === "Backspace") wipe();
    else if (e.key === "Enter" && !(e.target instanceof HTMLButtonElement)) accept(); else return;
    e.preventDefault();
  };
  return [el("div", { class: "shown" }, shown, told),
    el("div", { class: "pad" }, ["7", "8", "9", "4", "5", "6", "1", "2", "3", "0"].map(key), button(say("wipe"), wipe, { class: "wipe" }), ok)];
}

function padScreen(hive) {
  const row = state.view && state.view.hives.find((h) => h.name === hive);
  const asks = el("div", {});
  const ok = async (mites, wipe, again) => {
    try {
      const checked = await Engine.ask({ do: "check", rows: [countRow(hive, mites)], again: !!again });
      if (checked.twins && checked.twins.length) {
        asks.replaceChildren(el("p", { class: "warn" }, say("twin", { name: called(hive) })),
          el("div", { class: "row" }, button(say("twinYes"), () => ok(mites, wipe, true)), button(say("twinNo"), () => { asks.replaceChildren(); wipe(); })));
        return;
      }
      const { kept, saved } = await keep(checked.rows);
      state.last = { rows: kept, hive };
      await answerScreen(hive, { mites, saved });
    } catch (e) { if (e !== GONE) asks.replaceChildren(el("p", { class: "warn" }, e.message)); }
  };
  show(el("div", { class: "head" }, el("h1", {}, hive), button(units(visitText()), () => go("visit"), { class: "plain" })),
    el("p", { class: "soft" }, [spoken(today()), row && row.do ? units(row.do) : ""].filter(Boolean).join(" · ")),
    padOf(ok), asks,
    state.last ? el("div", { class: "foot" }, undoLast()) : null,
    el("div", { class: "row" }, button(say("known"), () => go("hive", hive)), button(say("scoops"), () => go("scoops", hive)), button(say("back"), () => go(""))));
}

function nextHive(hive) {
  const list = (state.view ? state.view.hives : []).map((h) => h.name), i = list.indexOf(hive);
  return i >= 0 && i + 1 < list.length ? list[i + 1] : "";
}

// levelOf is the level with its limits and the chance of being over the line;
// the line to look closer at is not for the hive side.
const levelOf = (a) => a.level.split(/ {2,}/).slice(0, 2);

async function answerScreen(hive, fresh) {
  typed = null;
  // That it is saved is said before anything is worked out.
  const told = fresh ? `${called(hive)}: ${fresh.mites} ${say("mites")} · ${say(fresh.saved ? "saved" : "onlyPage")}` : spoken(today());
  show(el("p", { class: "soft", role: "status" }, told), el("p", {}, say("working")));
  const a = await ask({ do: "hive", yard: state.yard, hive, day: today() });
  const row = state.view && state.view.hives.find((h) => h.name === hive);
  if (row) { row.do = a.do; row.late = a.overdue; row.treats = a.treats; }
  const next = nextHive(hive);
  const more = el("div", {});
  const unfold = async () => {
    const m = await ask({ do: "more", yard: state.yard, hive, day: today() });
    more.replaceChildren(...moreOf(m));
    const h = more.querySelector("h2");
    if (h) { h.tabIndex = -1; h.focus(); }
  };
  const undo = fresh && state.last ? undoLast() : null;
  show(
    el("p", { class: "soft" }, told),
    el("h1", { class: "big" }, units(a.first)),
    el("div", { class: "foot" }, undo, next ? button(say("next", { name: called(next) }), () => go("pad", next)) : button(say("nextYard"), () => go(""))),
    a.ask_supers ? supersAsk(hive) : null,
    a.treats ? el("p", { class: "warn" }, say("treatNote")) : null,
    a.has_level ? [el("p", { class: "level" }, levelOf(a).map((t, i) => [i ? el("br", {}) : null, t]).flat()), picture(a.svg), el("p", {}, say("picture", { words: a.caption }))] : null,
    a.how ? el("p", {}, units(a.how)) : null,
    a.why.map((t) => el("p", {}, units(t))),
    el("p", {}, a.overdue ? say("overdue", { day: a.due_text }) : say("countBy", { day: a.due_text })),
    a.doubts.map((t) => el("p", { class: "warn" }, t)),
    el("p", { class: "soft" }, say("readFrom")),
    el("div", { class: "row" }, button(say("nextHow"), unfold), fresh ? null : button(say("countIt"), () => go("pad", hive)), button(say("season"), () => go("season", hive)), button(say("write"), () => go("event", hive)), button(say("back"), () => go(""))),
    more);
}

function supersAsk(hive) {
  const write = (event) => async () => {
    const c = await Engine.ask({ do: "check", rows: [{ date: today(), yard: state.yard, colony: hive, event }], again: true });
    await keep(c.rows);
    await answerScreen(hive);
  };
  return el("div", { class: "warn" }, el("p", {}, say("supersAsk", { name: called(hive) })), el("div", { class: "row" }, button(say("on"), write("supers-on")), button(say("off"), write("supers-off"))));
}

function moreOf(m) {
  const list = (head, items) => items.length ? [el("h2", {}, say(head)), el("ul", {}, items.map((t) => el("li", {}, units(t))))] : [];
  return [
    el("h2", {}, say("nextHow")), el("p", {}, m.next ? units(m.next) + "." : say("noNext")),
    m.cuts.length ? [el("h2", {}, say("cuts")), el("table", { class: "cuts" }, el("tbody", {}, m.cuts.map((c) => el("tr", {}, el("td", {}, c.mites), el("td", {}, c.then)))))] : [],
    list("cautions", m.cautions), list("steps", m.steps), list("enough", m.enough), list("signs", m.signs), list("line", [m.line]),
  ].flat();
}

function scoopScreen(hive) {
  const rows = [], told = el("div", { role: "status" });
  const add = async (mites, wipe) => {
    rows.push(countRow(hive, mites));
    wipe();
    try {
      const s = await Engine.ask({ do: "scoops", yard: state.yard, hive, day: today(), rows });
      told.replaceChildren(
        el("p", { class: "big" }, say(s.stop ? "scoopStop" : "scoopGo")), el("p", {}, units(s.answer.first)),
        el("p", { class: "level" }, s.answer.has_level ? levelOf(s.answer).join(" · ") : ""),
        el("p", {}, say("scoopSoFar", { list: rows.map((r) => r.mites).join(", ") })),
        el("div", { class: "foot" }, button(say("undo"), () => { rows.pop(); told.replaceChildren(); if (rows.length) { const r = rows.pop(); add(Number(r.mites), () => {}); } }),
          button(say("scoopSave", { n: rows.length }), save)));
    } catch (e) { rows.pop(); told.replaceChildren(el("p", { class: "warn" }, e.message)); }
  };
  const save = async () => {
    const noted = rows.map((r, i) => ({ ...r, note: `scoop ${i + 1}` }));
    const c = await Engine.ask({ do: "check", rows: noted, again: true });
    const { kept, saved } = await keep(c.rows);
    state.last = { rows: kept, hive };
    await answerScreen(hive, { mites: rows.map((r) => r.mites).join(" + "), saved });
  };
  show(el("div", { class: "head" }, el("h1", {}, `${hive} · ${say("scoops")}`), button(units(visitText()), () => go("visit"), { class: "plain" })), padOf(add), told,
    el("div", { class: "row" }, button(say("back"), () => go(""))));
}

async function seasonScreen(hive) {
  show(el("h1", {}, hive), el("p", {}, say("working")));
  const s = await ask({ do: "season", yard: state.yard, hive, day: today() });
  const back = (row) => button(say("takeBack"), async () => {
    await takeBack(state.rows.filter((r) => r.cells.id === row.id));
    if ((await names()).hives.some((h) => h.name === hive)) await seasonScreen(hive); else go("");
  }, { "aria-label": `${say("takeBack")}: ${row.day_text}, ${units(row.what)}` });
  show(el("h1", {}, hive), picture(s.svg),
    el("h2", {}, say("rows")), el("ul", { class: "written" }, s.rows.map((r) => el("li", {}, el("span", {}, `${r.day_text}: ${units(r.what)}${r.note ? ` (${r.note})` : ""}`), r.id ? back(r) : null))),
    el("div", { class: "row" }, button(say("known"), () => go("hive", hive)), button(say("back"), () => go(""))));
}

async function listScreen() {
  show(el("h1", {}, state.yard || say("yard")), el("p", {}, say("working")));
  if (!state.view) await names();
  const v = await workOut(() => {});
  const part = (head, items, line) => [el("h2", {}, say(head)), items.length ? el("ul", { class: "hives" }, items.map((d) => el("li", {},
    el("button", { type: "button", class: d.late ? "late" : "", on: once(() => go("hive", d.hive)) }, el("span", { class: "name" }, d.hive), el("span", { class: "do" }, line(d)), el("span", { class: "mark", "aria-hidden": "true" }, d.late ? "!" : ""))))) : el("p", {}, say("none"))];
  const lateWords = (d) => d.late ? `, ${d.late === 1 ? say("dayLate") : say("daysLate", { n: d.late })}` : `, ${say("today")}`;
  show(el("h1", {}, `${v.yard || say("yard")}, ${v.day_text}`),
    part("lateHead", v.late, (d) => d.what + lateWords(d)), part("treatedHead", v.treated, (d) => `${d.what} (${say("since", { day: d.day_text })})`), part("aheadHead", v.ahead, (d) => `${d.day_text}: ${d.what}`),
    v.doubts.map((t) => el("p", { class: "warn" }, t)),
    el("div", { class: "row" }, button(say("back"), () => go(""))));
}

function eventScreen(hive) {
  const names = state.view ? state.view.hives.map((h) => h.name) : [];
  const what = choice(state.lists.events.map((k) => [k, say("event_" + k)]), "treatment");
  const which = choice([...names.map((n) => [n, n]), ["\n", say("all")]], hive || names[0]);
  const when = el("input", { type: "date", value: today() });
  const treatment = choice([["", say("choose")], ...state.lists.treatments.map((t) => [t.name, t.called])], "");
  const until = el("input", { type: "date" }), brood = choice([["no", say("laysNot")], ["yes", say("lays")]], "no");
  const other = el("input", { autocomplete: "off", maxlength: 60 }), words = el("input", { autocomplete: "off", maxlength: 400 });
  const more = el("div", {}), told = el("div", { role: "status" });
  const has = (column) => state.lists.columns.includes(column);
  const care = el("div", {});
  const drawCare = () => {
    const t = state.lists.treatments.find((x) => x.name === treatment.value);
    care.replaceChildren(el("p", { class: "warn big" }, say("gloves")), el("ul", {}, [...new Set([...state.lists.gloves, ...(t ? t.cautions : [])])].map((c) => el("li", {}, c))));
  };
  treatment.addEventListener("change", drawCare);
  const draw = () => {
    drawCare();
    more.replaceChildren(...{
      treatment: [care, field(say("treatment"), treatment), has("until") ? field(say("until"), until) : ""],
      "brood-break": [field(say("broodQ"), brood)], split: [field(say("other"), other)], united: [field(say("other"), other)],
      signs: [el("ul", {}, state.lists.signs.map((c) => el("li", {}, c)))],
    }[what.value] || []);
  };
  what.addEventListener("change", draw);
  const save = async () => {
    const t = state.lists.treatments.find((x) => x.name === treatment.value);
    if (what.value === "treatment" && !t) { beside(treatment, say("whichTreatment")); return; }
    const of = which.value === "\n" ? names : [which.value];
    const rows = of.map((colony) => {
      const r = { date: when.value || today(), yard: state.yard, colony, event: what.value, note: words.value.trim() };
      if (what.value === "treatment") { r.active = t.active; r.application = t.application; if (has("until") && until.value) r.until = until.value; }
      if (what.value === "treatment" && has("mark") && r.date > iso(new Date())) r.mark = "planned";
      if (what.value === "brood-break") r.brood = brood.value;
      if (what.value === "split" || what.value === "united") r.pair = other.value.trim();
      return r;
    });
    try {
      const c = await Engine.ask({ do: "check", rows, again: false });
      if (c.twins && c.twins.length) { told.replaceChildren(el("p", { class: "warn" }, say("twin", { name: called(c.twins[0].colony) }))); return; }
      const { kept, saved } = await keep(c.rows);
      told.replaceChildren(el("p", {}, saved ? say("written", { n: kept.length, what: say("event_" + what.value) }) : say("onlyPage")),
        button(say("undo"), async () => { await takeBack(kept); told.replaceChildren(el("p", {}, say("undone"))); }));
    } catch (e) {
      const at = { date: when, until, pair: other, note: words, active: treatment, application: treatment, event: what, brood }[e.column];
      if (at && at.isConnected) beside(at, e.message); else told.replaceChildren(el("p", { class: "warn" }, e.message));
    }
  };
  draw();
  show(el("h1", {}, say("events")), field(say("what"), what), more, field(say("which"), which), field(say("when"), when), field(say("note"), words), told,
    el("div", { class: "foot" }, button(say("back"), () => go("")), button(say("save"), save)));
}

function moreScreen() {
  const name = el("input", { autocomplete: "off", maxlength: 60 });
  const add = async () => {
    const hive = name.value.trim();
    if (!hive) { beside(name, say("nameWrong")); return; }
    if (state.view && state.view.hives.some((h) => h.name === hive)) { beside(name, say("nameTaken", { name: hive })); return; }
    try {
      const c = await Engine.ask({ do: "check", rows: [{ date: today(), yard: state.yard, colony: hive, event: "inspection", stand: String((state.view ? state.view.hives.length : 0) + 1) }], again: true });
      await keep(c.rows);
      go("");
    } catch (e) { beside(name, e.message); }
  };
  onEnter(name, add);
  const others = (state.yards || []).filter((y) => y !== state.yard);
  show(el("h1", {}, say("more")),
    el("div", { class: "row" }, button(say("lists"), () => go("lists")), button(say("send"), () => go("send")), button(say("bring"), () => go("bring")), button(say("print"), async () => { await yardScreen(); if (state.view.whole) window.print(); }), button(say("settings"), () => go("settings"))),
    el("h2", {}, say("newHive")), field(say("hiveName"), name), button(say("add"), add),
    others.length ? [el("h2", {}, say("otherYard")), el("div", { class: "row" }, others.map((y) => button(y || say("yard"), async () => { state.yard = y; await Store.set("yard", y).catch(() => {}); go(""); })))] : null,
    el("p", { class: "warn" }, say("clears")), el("p", { class: "soft" }, say("tried")),
    el("div", { class: "foot" }, button(say("back"), () => go(""))));
}

async function sendScreen() {
  const sentNow = state.rows.map((r) => r.at), device = await Store.device();
  const { csv, rows } = await ask({ do: "export", yard: "" });
  const tidy = (s) => s.replace(/[^\p{L}\p{N}]+/gu, "_").slice(0, 30) || "yard";
  const name = `halfcup-${tidy(state.yard)}-${iso(new Date())}-${device}.csv`;
  const told = el("p", { role: "status" });
  const handed = async () => {
    await Store.markSent(sentNow);
    for (const r of state.rows) if (sentNow.includes(r.at)) r.sent = true;
    state.lastExport = iso(new Date());
    await Store.set("lastExport", state.lastExport).catch(() => {});
    told.textContent = say("shared", { name });
  };
  const file = () => new File([csv], name, { type: "text/csv" });
  const can = typeof File === "function" && navigator.canShare && navigator.canShare({ files: [file()] });
  const share = async () => { try { await navigator.share({ files: [file()], title: name }); await handed(); } catch (e) { if (e.name !== "AbortError") told.textContent = String(e.message || e); } };
  const save = async () => {
    const url = URL.createObjectURL(new Blob([csv], { type: "text/csv" }));
    const a = el("a", { href: url, download: name });
    document.body.append(a); a.click(); a.remove();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
    await handed();
  };
  const text = el("textarea", { readonly: true, rows: 6, id: "rows", "aria-label": say("copyText") });
  text.value = csv;
  const copy = async () => {
    try { await navigator.clipboard.writeText(csv); } catch (e) { text.select(); if (!document.execCommand("copy")) return; }
    await handed();
    told.textContent = say("copied");
  };
  show(el("h1", {}, say("sendHead")), el("p", {}, say("sendWhy", { n: rows, m: unsent().length, last: state.lastExport || say("never") })),
    el("div", { class: "row" }, can ? button(say("share"), share) : null, button(say("download"), save)), told,
    field(say("copyText"), text), button(say("copy"), copy),
    el("p", { class: "soft" }, say("onLaptop", { name })), el("p", { class: "warn" }, say("clears")),
    el("div", { class: "foot" }, button(say("back"), () => go(""))));
}

// textOf is a file as text. One that is not written in UTF-8 is refused: read as
// if it were, names with other letters would be kept broken.
async function textOf(file) {
  try { return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(await file.arrayBuffer()); } catch (e) { throw e instanceof TypeError ? new Error(say("bringUTF8")) : e; }
}

function bringScreen() {
  const file = el("input", { type: "file", accept: ".csv,text/csv,text/plain" }), text = el("textarea", { rows: 6 }), told = el("div", { role: "status" });
  const read = async () => {
    try {
      const source = file.files && file.files[0] ? await textOf(file.files[0]) : text.value;
      if (!source.trim()) { beside(text, say("bringEmpty")); return; }
      const m = await Engine.ask({ do: "merge", text: source });
      let twice = false;
      const keepThem = async () => {
        const more = twice ? (await Engine.ask({ do: "check", rows: m.twins, again: true })).rows : [];
        const { kept, saved } = await keep([...m.new, ...more], { sent: true, foreign: true });
        await reload();
        told.replaceChildren(el("p", {}, saved ? say("bringDone", { n: kept.length }) : say("onlyPage")));
      };
      const both = el("input", { type: "checkbox" });
      both.addEventListener("change", () => { twice = both.checked; });
      told.replaceChildren(...[
        el("p", {}, say("bringGot", { n: m.new.length, same: m.same })),
        m.twins.length ? [el("p", { class: "warn" }, say("bringTwins", { n: m.twins.length })), el("ul", {}, m.twins.slice(0, 20).map((r) => el("li", {}, `${r.colony}, ${r.date}: ${r.event} ${r.mites || ""}`))), el("label", {}, both, " " + say("bringBoth"))] : [],
        m.unread.length ? [el("p", { class: "warn" }, say("bringUnread")), el("ul", {}, m.unread.slice(0, 20).map((t) => el("li", {}, t)))] : [],
        m.left.length ? el("p", {}, say("bringLeft", { list: m.left.join(", ") })) : [],
        m.new.length || m.twins.length ? button(say("bringKeep", { n: m.new.length }), keepThem) : [],
      ].flat());
    } catch (e) { told.replaceChildren(); beside(file.files && file.files[0] ? file : text, e.message); }
  };
  show(el("h1", {}, say("bringHead")), field(say("bringFile"), file), field(say("bringPaste"), text), button(say("bringRead"), read), told,
    el("div", { class: "foot" }, button(say("back"), () => go(""))));
}

async function settingsScreen() {
  const s = { starts: {}, ...state.settings }, inputs = {};
  const pick = (key, options) => field(say("set_" + key), inputs[key] = choice(options, s[key] || options[0][0]));
  const write = (key, more) => field(say("set_" + key), inputs[key] = el("input", { value: s[key] || "", autocomplete: "off", ...more }));
  const starts = ["spring", "summer", "late-summer", "autumn", "winter"].map((k) => [k, el("input", { value: s.starts[k] || "", placeholder: "MM-DD", autocomplete: "off" })]);
  const co2 = el("input", { type: "checkbox", checked: !!s.co2 });
  const told = el("div", { role: "status" });
  const fields = [
    pick("hemisphere", [["north", say("set_north")], ["south", say("set_south")]]), pick("year", state.lists.years.map((y) => [y, y])), write("brood"),
    el("h2", {}, say("set_starts")), starts.map(([k, input]) => field(say("season_" + k), input)),
    pick("lines", state.lists.lines.map((y) => [y, y])), write("act", { inputmode: "decimal" }),
    pick("unit", [["cup", say("set_cup")], ["ml", say("set_ml")]]), pick("warmth", [["c", "°C"], ["f", "°F"]]), write("by", { maxlength: 60 }), el("label", {}, co2, " " + say("set_co2")),
  ].flat();
  const save = async () => {
    const own = { co2: co2.checked, starts: {} };
    for (const [k, input] of Object.entries(inputs)) own[k] = input.value.trim();
    for (const [k, input] of starts) if (input.value.trim()) own.starts[k] = input.value.trim();
    own.most_brood = own.brood;
    if (own.act && !(Number(own.act) >= 0.01 && Number(own.act) <= 100)) { beside(inputs.act, say("actWrong")); return; }
    // One after the other, so that what is wrong is said beside its field.
    const before = state.settings, tried = { starts: {}, lines: before.lines, year: before.year, hemisphere: before.hemisphere };
    const ways = [["hemisphere", inputs.hemisphere], ["year", inputs.year], ["most_brood", inputs.brood], ...starts.map(([k, input]) => [k, input]), ["lines", inputs.lines], ["act", inputs.act]];
    for (const [k, input] of ways) {
      if (k in own) tried[k] = own[k]; else tried.starts[k] = own.starts[k] || "";
      state.settings = tried;
      try { await Engine.ask({ do: "set", settings: engineSettings() }); } catch (e) {
        state.settings = before;
        await Engine.ask({ do: "set", settings: engineSettings() });
        beside(input, e.message);
        return;
      }
    }
    state.settings = own;
    await Engine.ask({ do: "set", settings: engineSettings() });
    if (own.unit === "ml") state.visit.measure = { "0.5cup": "120ml", "1cup": "240ml" }[state.visit.measure] || state.visit.measure;
    else state.visit.measure = { "120ml": "0.5cup", "240ml": "1cup" }[state.visit.measure] || state.visit.measure;
    try { await Store.set("settings", own); told.replaceChildren(el("p", {}, say("set_saved"))); } catch (e) { told.replaceChildren(el("p", { class: "warn" }, say("onlyPage"))); }
  };
  show(el("h1", {}, say("settings")), fields, told, el("div", { class: "foot" }, button(say("back"), () => go("")), button(say("save"), save)));
}

// The way between the screens: the part of the address behind #, so that the
// phone's own way back works.

const SCREENS = { "": yardScreen, visit: visitScreen, pad: padScreen, hive: (h) => answerScreen(h), scoops: scoopScreen, season: seasonScreen, lists: listScreen, event: eventScreen, more: moreScreen, send: sendScreen, bring: bringScreen, settings: settingsScreen };

function go(screen, hive, instead) {
  const to = "#" + screen + (hive ? "/" + encodeURIComponent(hive) : "");
  if (location.hash === to || (to === "#" && location.hash === "")) { route(); return; }
  if (instead) { history.replaceState(null, "", to); route(); } else location.hash = to;
}

async function route() {
  if (!state.ready) return;
  typed = null;
  turn++;
  const [screen, hive] = location.hash.replace(/^#/, "").split("/");
  note("");
  try {
    const name = hive ? decodeURIComponent(hive) : "";
    if (state.rows.length === 0 && screen !== "bring" && screen !== "settings") { firstUse(); return; }
    if (!state.view && screen !== "bring") await names();
    await (SCREENS[screen] || yardScreen)(name);
  } catch (e) {
    if (e === GONE) return;
    note(e.message);
    show(el("div", { class: "foot" }, button(say("back"), () => go(""))));
  }
}

async function begin() {
  show(el("p", {}, say("starting")));
  const [, keeps] = await Promise.all([Engine.start(), Store.open()]);
  state.lists = await Engine.ask({ do: "lists" });
  if (keeps) {
    state.settings = (await Store.get("settings")) || {};
    state.visit = (await Store.get("visit")) || state.visit;
    state.yard = (await Store.get("yard")) || "";
    state.lastExport = (await Store.get("lastExport")) || "";
  }
  await reload();
  state.ready = true;
  window.addEventListener("hashchange", route);
  Store.onNews(async () => { await reload(); if (location.hash.replace(/^#/, "") === "") route(); });
  document.addEventListener("visibilitychange", async () => {
    if (document.visibilityState === "visible" && (await Store.all()).length !== state.rows.length) { await reload(); if (location.hash.replace(/^#/, "") === "") route(); }
  });
  document.addEventListener("keydown", (e) => { if (typed) typed(e); });
  window.addEventListener("beforeunload", (e) => { if (Store.memory()) e.preventDefault(); });
  route();
  if ("serviceWorker" in navigator && document.querySelector("link[rel=manifest]") && isSecureContext) navigator.serviceWorker.register("sw.js").catch(() => {});
}

begin().catch((e) => { show(el("p", { class: "warn" }, say("broken", { why: e.message || e }))); });
