// Engine: questions to the engine of the program, wherever it runs.
const Engine = (() => {
  let send = null;
  const waiting = new Map();
  let count = 0;

  function start() {
    const source = document.getElementById("worker").textContent;
    const holder = document.getElementById("engine");
    const packed = { packed: holder.textContent, size: Number(holder.dataset.size) };
    return inWorker(source, packed).catch(() => inPage(source, packed));
  }

  function inWorker(source, packed) {
    return new Promise((done, failed) => {
      const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
      const w = new Worker(url);
      w.onerror = (e) => { e.preventDefault(); failed(new Error("no worker")); };
      w.onmessage = (e) => {
        const { id, text, failed: why } = e.data;
        const p = waiting.get(id);
        waiting.delete(id);
        if (p) why === undefined ? p.done(text) : p.failed(new Error(why));
      };
      send = (m) => new Promise((ok, no) => {
        const id = ++count;
        waiting.set(id, { done: ok, failed: no });
        w.postMessage({ id, ...m });
      });
      send(packed).then(done, failed);
    });
  }

  async function inPage(source, packed) {
    const s = document.createElement("script");
    s.textContent = source;
    document.head.append(s);
    const ask = await startEngine(packed.packed, packed.size);
    send = (m) => Promise.resolve(ask(m.text));
  }

  async function ask(question) {
    const answer = JSON.parse(await send({ text: JSON.stringify(question) }));
    if (answer && answer.error) {
      const e = new Error(answer.error);
      e.column = answer.column;
      throw e;
    }
    return answer;
  }

  return { start, ask };
})();
