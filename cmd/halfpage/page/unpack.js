"use strict";
// From letters to bytes, and from packed bytes to what they were.

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

// unpack undoes pack of pack.go: LZMA without a header, with three bits of the
// byte before as the context of a literal and none of the place.
function unpack(text, size) {
  const data = fromLetters(text);
  const out = new Uint8Array(size), even = (n) => new Uint16Array(n).fill(1024);
  const match = even(12), again = even(12), first = even(12), second = even(12), third = even(12), one = even(12);
  const literals = even(0x300 << 3), slots = even(64 * 4), fars = even(128), low = even(16);
  const lengths = () => ({ choice: even(2), short: even(8), middle: even(8), long: even(256) });
  const ofMatch = lengths(), ofAgain = lengths();
  const coder = new Uint32Array([-1, data[1] << 24 | data[2] << 16 | data[3] << 8 | data[4]]); // its range and code
  let at = 0, pos = 5;
  const bit = (p, i) => {
    const v = p[i], bound = (coder[0] >>> 11) * v, b = coder[1] < bound ? 0 : 1;
    if (b) { coder[1] -= bound; coder[0] -= bound; p[i] = v - (v >> 5); } else { coder[0] = bound; p[i] = v + (2048 - v >> 5); }
    if (coder[0] < 16777216) { coder[0] <<= 8; coder[1] = coder[1] << 8 | data[pos++]; }
    return b;
  };
  const tree = (p, from, bits) => {
    let m = 1;
    for (let i = bits; i > 0; i--) m = m << 1 | bit(p, from + m);
    return m - (1 << bits);
  };
  const back = (p, from, bits) => { // the lowest bit first
    let m = 1, v = 0;
    for (let i = 0; i < bits; i++) { const b = bit(p, from + m); m = m << 1 | b; v |= b << i; }
    return v;
  };
  const plain = (bits) => {
    let v = 0;
    for (; bits > 0; bits--) {
      coder[0] >>>= 1;
      const b = coder[1] < coder[0] ? 0 : 1;
      if (b) coder[1] -= coder[0];
      v = v << 1 | b;
      if (coder[0] < 16777216) { coder[0] <<= 8; coder[1] = coder[1] << 8 | data[pos++]; }
    }
    return v;
  };
  const length = (l) => !bit(l.choice, 0) ? 2 + tree(l.short, 0, 3) : !bit(l.choice, 1) ? 10 + tree(l.middle, 0, 3) : 18 + tree(l.long, 0, 8);
  let state = 0, a = 0, b = 0, c = 0, d = 0; // the last four distances
  while (at < size) {
    if (!bit(match, state)) {
      const from = 0x300 * ((at ? out[at - 1] : 0) >> 5);
      let m = 1;
      if (state >= 7) {
        for (let other = out[at - a - 1]; m < 256;) {
          const o = other >> 7 & 1, v = bit(literals, from + (1 + o << 8) + m);
          other <<= 1;
          m = m << 1 | v;
          if (o !== v) break;
        }
      }
      while (m < 256) m = m << 1 | bit(literals, from + m);
      out[at++] = m;
      state = state < 4 ? 0 : state < 10 ? state - 3 : state - 6;
      continue;
    }
    let n;
    if (bit(again, state)) {
      if (!bit(first, state)) {
        if (!bit(one, state)) { state = state < 7 ? 9 : 11; out[at] = out[at - a - 1]; at++; continue; }
      } else if (!bit(second, state)) { [a, b] = [b, a]; } else if (!bit(third, state)) { [a, b, c] = [c, a, b]; } else { [a, b, c, d] = [d, a, b, c]; }
      n = length(ofAgain);
      state = state < 7 ? 8 : 11;
    } else {
      d = c; c = b; b = a;
      n = length(ofMatch);
      state = state < 7 ? 7 : 10;
      const slot = tree(slots, 64 * Math.min(n - 2, 3), 6), bits = (slot >> 1) - 1;
      a = slot;
      if (slot >= 4) {
        a = (2 | slot & 1) << bits;
        a += slot < 14 ? back(fars, a - slot, bits) : (plain(bits - 4) << 4) + back(low, 0, 4);
      }
    }
    if (a >= at || at + n > size) throw new Error("the engine in this page is damaged");
    for (; n > 0; n--, at++) out[at] = out[at - a - 1];
  }
  return out;
}
