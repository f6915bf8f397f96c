"use strict";
// From letters to bytes, and from deflated bytes to what they were.

const ALPHABET = (() => {
  const of = new Int16Array(128).fill(-1);
  let n = 0;
  for (let c = 33; c <= 126; c++) if (c !== 60 && c !== 38 && c !== 92) of[c] = n++;
  return of;
})();

function fromLetters(text) {
  const out = new Uint8Array(Math.floor((text.length / 2) * 13 / 8));
  let bits = 0, n = 0, at = 0;
  for (let i = 0; i + 1 < text.length; i += 2) {
    bits |= (ALPHABET[text.charCodeAt(i)] + 91 * ALPHABET[text.charCodeAt(i + 1)]) << n;
    for (n += 13; n >= 8; n -= 8, bits >>>= 8) out[at++] = bits & 255;
  }
  return out.subarray(0, at);
}

// inflate is for browsers without DecompressionStream (RFC 1951).
function inflate(data, size) {
  const out = new Uint8Array(size);
  let at = 0, pos = 0, hold = 0, held = 0;
  const bits = (n) => {
    while (held < n) { hold |= data[pos++] << held; held += 8; }
    const v = hold & ((1 << n) - 1);
    hold >>>= n; held -= n;
    return v;
  };
  const code = (lengths) => {
    const count = new Uint16Array(16), next = new Uint16Array(16), symbols = new Uint16Array(lengths.length);
    for (const l of lengths) count[l]++;
    count[0] = 0;
    for (let i = 1; i < 16; i++) next[i] = next[i - 1] + count[i - 1];
    lengths.forEach((l, s) => { if (l) symbols[next[l]++] = s; });
    return { count, symbols };
  };
  const symbol = ({ count, symbols }) => {
    let c = 0, first = 0, index = 0;
    for (let l = 1; l < 16; l++) {
      c |= bits(1);
      const n = count[l];
      if (c - first < n) return symbols[index + c - first];
      index += n; first = (first + n) << 1; c <<= 1;
    }
    throw new Error("the engine in this page is damaged");
  };
  const lengthOf = [], lengthMore = [], farOf = [], farMore = [];
  for (let i = 0, base = 3; i < 28; i++) { const m = i < 8 ? 0 : (i >> 2) - 1; lengthOf.push(base); lengthMore.push(m); base += 1 << m; }
  lengthOf.push(258); lengthMore.push(0);
  for (let i = 0, base = 1; i < 30; i++) { const m = i < 4 ? 0 : (i >> 1) - 1; farOf.push(base); farMore.push(m); base += 1 << m; }
  const fixed = [];
  for (let i = 0; i < 288; i++) fixed.push(i < 144 ? 8 : i < 256 ? 9 : i < 280 ? 7 : 8);
  const fixedFar = new Array(30).fill(5);
  for (let last = 0; !last;) {
    last = bits(1);
    const type = bits(2);
    if (type === 0) {
      hold = 0; held = 0;
      const n = data[pos] | data[pos + 1] << 8;
      pos += 4;
      out.set(data.subarray(pos, pos + n), at);
      pos += n; at += n;
      continue;
    }
    let literals = fixed, fars = fixedFar;
    if (type === 2) {
      const nl = bits(5) + 257, nd = bits(5) + 1, nc = bits(4) + 4;
      const order = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15], ls = new Array(19).fill(0);
      for (let i = 0; i < nc; i++) ls[order[i]] = bits(3);
      const c = code(ls), all = [];
      while (all.length < nl + nd) {
        const s = symbol(c);
        if (s < 16) all.push(s);
        else {
          const v = s === 16 ? all[all.length - 1] : 0;
          for (let n = s === 16 ? 3 + bits(2) : s === 17 ? 3 + bits(3) : 11 + bits(7); n > 0; n--) all.push(v);
        }
      }
      literals = all.slice(0, nl); fars = all.slice(nl, nl + nd);
    }
    const lc = code(literals), fc = code(fars);
    for (;;) {
      const s = symbol(lc);
      if (s === 256) break;
      if (s < 256) { out[at++] = s; continue; }
      const n = lengthOf[s - 257] + bits(lengthMore[s - 257]), f = symbol(fc), far = farOf[f] + bits(farMore[f]);
      for (let i = 0; i < n; i++, at++) out[at] = out[at - far];
    }
  }
  return out.subarray(0, at);
}

async function unpack(text, size) {
  const data = fromLetters(text);
  if (typeof DecompressionStream === "function") {
    try {
      const stream = new Blob([data]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
      return new Uint8Array(await new Response(stream).arrayBuffer());
    } catch (e) { /* a browser that knows the stream but not this format */ }
  }
  return inflate(data, size);
}
