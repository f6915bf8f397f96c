// Store: the rows and settings of this device, in the browser's own store. A row
// counts as kept when its transaction has ended, and not before. Where nothing
// can be kept, rows live as long as the page.
const Store = (() => {
  const NAME = "halfcup", VERSION = 1;
  let db = null;
  let memory = []; // rows that could not be kept
  const news = typeof BroadcastChannel === "function" ? new BroadcastChannel("halfcup") : null;

  const wait = (request) => new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

  function begin(names) {
    let t;
    try { t = db.transaction(names, "readwrite", { durability: "strict" }); } catch (e) { t = db.transaction(names, "readwrite"); }
    const ended = new Promise((done, failed) => {
      t.oncomplete = () => done();
      t.onabort = () => failed(t.error || new Error("not written"));
      t.onerror = () => {};
    });
    ended.catch(() => {});
    return { t, ended };
  }

  // open tries whether what is written can be read back, and says so.
  async function open() {
    try {
      const request = indexedDB.open(NAME, VERSION);
      request.onupgradeneeded = () => {
        const d = request.result;
        d.createObjectStore("rows", { keyPath: "at", autoIncrement: true });
        d.createObjectStore("meta");
        d.createObjectStore("probe");
      };
      db = await Promise.race([wait(request), new Promise((_, no) => setTimeout(() => no(new Error("no answer")), 4000))]);
      db.onversionchange = () => db.close();
      const word = String(Date.now()) + Math.random();
      let { t, ended } = begin(["probe"]);
      t.objectStore("probe").put(word, "row");
      await ended;
      const back = await wait(db.transaction("probe").objectStore("probe").get("row"));
      ({ t, ended } = begin(["probe"]));
      t.objectStore("probe").delete("row");
      await ended;
      if (back !== word) throw new Error("another row came back");
      return true;
    } catch (e) {
      db = null;
      return false;
    }
  }

  async function get(key) {
    return db ? wait(db.transaction("meta").objectStore("meta").get(key)) : undefined;
  }

  async function set(key, value) {
    if (!db) return;
    const { t, ended } = begin(["meta"]);
    t.objectStore("meta").put(value, key);
    await ended;
  }

  // all is every row: {at, sent, cells}, at naming it here.
  async function all() {
    const rows = db ? await wait(db.transaction("rows").objectStore("rows").getAll()) : [];
    return rows.concat(memory);
  }

  // letters name this device in the ids of its rows.
  function newLetters() {
    const from = "bcdfghjkmnpqrstvwxz", r = new Uint8Array(4);
    crypto.getRandomValues(r);
    return Array.from(r, (v) => from[v % from.length]).join("");
  }

  let spare = null; // the device where nothing is kept

  // add keeps rows together: all of them or none. Own rows without an id get one,
  // rows from elsewhere stay as they came;
  // the numbers come out of the same transaction, so that two tabs never give
  // one number twice. It throws when they are not kept.
  async function add(list, { sent = false, foreign = false } = {}) {
    if (!db) {
      spare = spare || { letters: newLetters(), next: 1 };
      const rows = list.map((cells, i) => named(cells, foreign ? null : spare, sent, "m" + (memory.length + i)));
      memory.push(...rows);
      return rows;
    }
    const { t, ended } = begin(["rows", "meta"]);
    const out = [];
    let why = null;
    try {
      const meta = t.objectStore("meta"), rows = t.objectStore("rows");
      const device = await wait(meta.get("device")) || { letters: newLetters(), next: 1 };
      for (const cells of list) {
        const row = named(cells, foreign ? null : device, sent);
        row.at = await wait(rows.add(row));
        out.push(row);
      }
      meta.put(device, "device");
    } catch (e) {
      why = e;
      try { t.abort(); } catch (_) { /* it has ended */ }
    }
    try { await ended; } catch (e) { throw why || e; }
    if (why) throw why;
    if (news) news.postMessage("changed");
    return out;
  }

  function named(cells, device, sent, at) {
    const own = { ...cells };
    if (!own.id && device) own.id = device.letters + device.next++;
    const row = { sent: !!sent, cells: own };
    if (at !== undefined) row.at = at;
    return row;
  }

  // lose keeps rows in the page only, after the store has refused them.
  async function lose(list) {
    const kept = db;
    db = null;
    try { return await add(list); } finally { db = kept; }
  }

  async function remove(ats) {
    memory = memory.filter((r) => !ats.includes(r.at));
    const mine = ats.filter((at) => typeof at === "number");
    if (!db || mine.length === 0) return;
    const { t, ended } = begin(["rows"]);
    for (const at of mine) t.objectStore("rows").delete(at);
    await ended;
    if (news) news.postMessage("changed");
  }

  async function markSent(ats) {
    for (const r of memory) if (ats.includes(r.at)) r.sent = true;
    if (!db) return;
    const { t, ended } = begin(["rows"]);
    const rows = t.objectStore("rows");
    for (const at of ats.filter((a) => typeof a === "number")) {
      const row = await wait(rows.get(at));
      if (row) { row.sent = true; rows.put(row); }
    }
    await ended;
  }

  async function device() {
    if (!db) { spare = spare || { letters: newLetters(), next: 1 }; return spare.letters; }
    const d = await get("device");
    return d ? d.letters : "new";
  }

  function onNews(f) { if (news) news.onmessage = f; }

  return { open, get, set, all, add, lose, remove, markSent, device, onNews, memory: () => memory.length, keeps: () => db !== null };
})();
