// Raw deflate (RFC 1951): bits come lowest first, codes highest bit first.

const LENGTH_BASE = [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258];
const LENGTH_EXTRA = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
const REACH_BASE = [1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577];
const REACH_EXTRA = [0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13];
const CODE_ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

function huffman(lengths) {
  // Symbols in the order of their codes, and how many codes there are of each length.
  const count = new Uint16Array(16), start = new Uint16Array(16), symbols = new Uint16Array(lengths.length);
  for (const length of lengths) count[length] += 1;
  count[0] = 0;
  for (let n = 1; n < 16; n += 1) start[n] = start[n - 1] + count[n - 1];
  lengths.forEach((length, symbol) => { if (length) symbols[start[length]++] = symbol; });
  return { count, symbols };
}

function fixedCodes() {
  const lengths = [];
  for (let k = 0; k < 288; k += 1) lengths.push(k < 144 ? 8 : k < 256 ? 9 : k < 280 ? 7 : 8);
  return [huffman(lengths), huffman(new Array(30).fill(5))];
}

export function inflate(input, size) {
  const out = new Uint8Array(size);
  let at = 0, place = 0, held = 0, bits = 0;

  function take(n) {
    while (bits < n) {
      if (at >= input.length) throw new Error("slice is cut short");
      held |= input[at++] << bits;
      bits += 8;
    }
    const value = held & ((1 << n) - 1);
    held >>>= n;
    bits -= n;
    return value;
  }

  function symbol(tree) {
    let code = 0, first = 0, index = 0;
    for (let n = 1; n < 16; n += 1) {
      code |= take(1);
      const count = tree.count[n];
      if (code - count < first) return tree.symbols[index + (code - first)];
      index += count;
      first = (first + count) << 1;
      code <<= 1;
    }
    throw new Error("slice holds a code that does not exist");
  }

  function dynamicCodes() {
    const literals = take(5) + 257, reaches = take(5) + 1, codes = take(4) + 4;
    const short = new Array(19).fill(0);
    for (let k = 0; k < codes; k += 1) short[CODE_ORDER[k]] = take(3);
    const tree = huffman(short), lengths = [];
    while (lengths.length < literals + reaches) {
      const s = symbol(tree);
      if (s < 16) { lengths.push(s); continue; }
      const value = s === 16 ? lengths[lengths.length - 1] : 0;
      const times = s === 16 ? 3 + take(2) : s === 17 ? 3 + take(3) : 11 + take(7);
      for (let k = 0; k < times; k += 1) lengths.push(value);
    }
    return [huffman(lengths.slice(0, literals)), huffman(lengths.slice(literals))];
  }

  for (let last = 0; !last;) {
    last = take(1);
    const kind = take(2);
    if (kind === 0) {
      held = 0; bits = 0;
      const length = input[at] | (input[at + 1] << 8);
      at += 4;
      out.set(input.subarray(at, at + length), place);
      at += length;
      place += length;
      continue;
    }
    const [literal, reach] = kind === 1 ? fixedCodes() : dynamicCodes();
    for (;;) {
      const s = symbol(literal);
      if (s < 256) { out[place++] = s; continue; }
      if (s === 256) break;
      const length = LENGTH_BASE[s - 257] + take(LENGTH_EXTRA[s - 257]);
      const r = symbol(reach);
      const back = REACH_BASE[r] + take(REACH_EXTRA[r]);
      for (let k = 0; k < length; k += 1, place += 1) out[place] = out[place - back];
    }
  }
  return out;
}

export function bytesOf(base64) {
  const text = atob(base64), bytes = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k += 1) bytes[k] = text.charCodeAt(k);
  return bytes;
}

export function unpackSlice(base64, rows, columns) {
  const cells = inflate(bytesOf(base64), rows * columns);
  for (let k = columns; k < cells.length; k += 1) cells[k] = (cells[k] + cells[k - columns]) & 255;
  return cells;
}
