// The engine: one question in JSON, one answer in JSON. It runs beside the page,
// so that keys answer while it works; without workers it runs in the page.
async function startEngine(packed, size) {
  const go = new Go();
  const bytes = unpack(packed, size);
  const ready = new Promise((done) => { globalThis.halfcupReady = done; });
  const { instance } = await WebAssembly.instantiate(bytes, go.importObject);
  go.run(instance);
  await ready;
  return (question) => globalThis.halfcup(question);
}

if (typeof document === "undefined") {
  let ask = null;
  self.onmessage = async (e) => {
    const m = e.data;
    try {
      if (m.packed) {
        ask = await startEngine(m.packed, m.size);
        self.postMessage({ id: m.id, text: "{}" });
      } else {
        self.postMessage({ id: m.id, text: ask(m.text) });
      }
    } catch (err) {
      self.postMessage({ id: m.id, failed: String(err && err.message || err) });
    }
  };
}
