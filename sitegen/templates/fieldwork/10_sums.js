// Sums that can be checked elsewhere: SHA-256 (FIPS 180-4) and the two check letters of a label (ISO/IEC 7064, MOD 1271-36).

const LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

// The constants are the first 32 bits of the fractional parts of cube and square roots of the first primes (FIPS 180-4, 4.2.2, 5.3.3).
const PRIMES = [];
for (let n = 2; PRIMES.length < 64; n += 1) if (PRIMES.every((p) => n % p)) PRIMES.push(n);

function fractionBits(n, root) {
  // Whole numbers, because a double has too few digits for the last bits of some roots.
  const wanted = BigInt(n) << BigInt(32 * root);
  let low = 0n;
  let high = 1n << 40n;
  while (high - low > 1n) {
    const middle = (low + high) / 2n;
    if (middle ** BigInt(root) <= wanted) low = middle;
    else high = middle;
  }
  return Number(low & 0xffffffffn);
}

const ROUND_WORDS = Uint32Array.from(PRIMES, (p) => fractionBits(p, 3));
const FIRST_WORDS = Uint32Array.from(PRIMES.slice(0, 8), (p) => fractionBits(p, 2));

function hex(words) {
  return Array.from(words, (word) => word.toString(16).padStart(8, "0")).join("");
}

function padded(bytes) {
  const size = Math.ceil((bytes.length + 9) / 64) * 64;
  const whole = new Uint8Array(size);
  whole.set(bytes);
  whole[bytes.length] = 0x80;
  const view = new DataView(whole.buffer);
  view.setUint32(size - 8, Math.floor(bytes.length / 0x20000000));
  view.setUint32(size - 4, (bytes.length << 3) >>> 0);
  return view;
}

function turn(word, by) {
  return (word >>> by) | (word << (32 - by));
}

function digestBlock(state, view, from) {
  const w = new Uint32Array(64);
  for (let t = 0; t < 16; t += 1) w[t] = view.getUint32(from + 4 * t);
  for (let t = 16; t < 64; t += 1) {
    const small0 = turn(w[t - 15], 7) ^ turn(w[t - 15], 18) ^ (w[t - 15] >>> 3);
    const small1 = turn(w[t - 2], 17) ^ turn(w[t - 2], 19) ^ (w[t - 2] >>> 10);
    w[t] = small1 + w[t - 7] + small0 + w[t - 16];
  }
  let [a, b, c, d, e, f, g, h] = state;
  for (let t = 0; t < 64; t += 1) {
    const big1 = turn(e, 6) ^ turn(e, 11) ^ turn(e, 25);
    const one = (h + big1 + ((e & f) ^ (~e & g)) + ROUND_WORDS[t] + w[t]) | 0;
    const big0 = turn(a, 2) ^ turn(a, 13) ^ turn(a, 22);
    const two = (big0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, i) => { state[i] += word; });
}

function ownSha256(text) {
  const view = padded(new TextEncoder().encode(text));
  const state = Uint32Array.from(FIRST_WORDS);
  for (let from = 0; from < view.byteLength; from += 64) digestBlock(state, view, from);
  return hex(state);
}

async function browserSha256(text) {
  const sum = new DataView(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text)));
  return hex(Array.from({ length: 8 }, (_, i) => sum.getUint32(4 * i)));
}

// The browser's sum where it gives one, and ours beside it: two sums that differ are no sum.
async function sha256(text) {
  const own = ownSha256(text);
  if (!(window.crypto && crypto.subtle)) return own;
  const theirs = await browserSha256(text);
  if (own !== theirs) throw new Error("this browser computes SHA-256 in two ways that differ");
  return theirs;
}

function letterSum(text) {
  let sum = 0;
  for (const letter of text) sum = ((sum + LETTERS.indexOf(letter)) * 36) % 1271;
  return sum;
}

function checkLetters(identity) {
  const plain = identity.replace(/[^0-9A-Za-z]/g, "").toUpperCase();
  const check = (1272 - ((letterSum(plain) * 36) % 1271)) % 1271;
  return LETTERS[Math.floor(check / 36)] + LETTERS[check % 36];
}

// The identity of a label's text `ID*CC`; "" where the check letters don't fit, which a misread label has.
function readLabel(text) {
  const parts = /^(.+)\*([0-9A-Z]{2})$/.exec(text.trim());
  return parts && /[0-9A-Za-z]/.test(parts[1]) && checkLetters(parts[1]) === parts[2] ? parts[1] : "";
}
