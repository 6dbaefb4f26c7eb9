"use strict";

// Check a bag in the browser: list its files, hash them, compare with its manifests.

const LISTS = ["manifest-sha256.txt", "tagmanifest-sha256.txt"];
const UNLISTED = /^tagmanifest-sha(256|512)\.txt$/;

// ---- SHA-256 (FIPS 180-4), used where the browser keeps its own from pages on disk ----

// The first `count` prime numbers; their roots give the constants of the algorithm.
function primes(count) {
  const found = [];
  for (let n = 2; found.length < count; n += 1) {
    if (found.every((prime) => n % prime !== 0)) found.push(n);
  }
  return found;
}

const fraction = (number) => Math.floor((number - Math.floor(number)) * 2 ** 32) >>> 0;
const ROUND = Uint32Array.from(primes(64), (prime) => fraction(Math.cbrt(prime)));
const START = Uint32Array.from(primes(8), (prime) => fraction(Math.sqrt(prime)));
const turn = (word, by) => (word >>> by) | (word << (32 - by));

function padded(bytes) {
  const whole = new Uint8Array(Math.ceil((bytes.length + 9) / 64) * 64);
  whole.set(bytes);
  whole[bytes.length] = 0x80;
  const view = new DataView(whole.buffer);
  view.setUint32(whole.length - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(whole.length - 4, (bytes.length << 3) >>> 0);
  return view;
}

function schedule(view, offset, words) {
  for (let t = 0; t < 16; t += 1) words[t] = view.getUint32(offset + 4 * t);
  for (let t = 16; t < 64; t += 1) {
    const a = words[t - 15];
    const b = words[t - 2];
    const small = turn(a, 7) ^ turn(a, 18) ^ (a >>> 3);
    const large = turn(b, 17) ^ turn(b, 19) ^ (b >>> 10);
    words[t] = (words[t - 16] + small + words[t - 7] + large) | 0;
  }
}

function compress(state, words) {
  let [a, b, c, d, e, f, g, h] = state;
  for (let t = 0; t < 64; t += 1) {
    const choice = (e & f) ^ (~e & g);
    const most = (a & b) ^ (a & c) ^ (b & c);
    const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + choice + ROUND[t] + words[t]) | 0;
    const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + most) | 0;
    [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
  }
  [a, b, c, d, e, f, g, h].forEach((word, at) => { state[at] += word; });
}

function ownSha256(bytes) {
  const state = START.slice();
  const words = new Int32Array(64);
  const view = padded(bytes);
  for (let offset = 0; offset < view.byteLength; offset += 64) {
    schedule(view, offset, words);
    compress(state, words);
  }
  return [...state].map((word) => word.toString(16).padStart(8, "0")).join("");
}

async function sha256(bytes) {
  if (!(window.crypto && window.crypto.subtle)) return ownSha256(bytes);
  const digest = new Uint8Array(await window.crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// ---- the files of the bag: a Map from the path below it to a File ----

function chosenFiles(list) {
  return new Map([...list].map((file) => [file.webkitRelativePath.split("/").slice(1).join("/"), file]));
}

function readBatch(reader) {
  return new Promise((resolve, reject) => { reader.readEntries(resolve, reject); });
}

async function droppedFiles(entry, path, found) {
  if (entry.isFile) {
    found.set(path, await new Promise((resolve, reject) => { entry.file(resolve, reject); }));
    return;
  }
  const reader = entry.createReader();
  for (let batch = await readBatch(reader); batch.length > 0; batch = await readBatch(reader)) {
    for (const inner of batch) await droppedFiles(inner, path ? `${path}/${inner.name}` : inner.name, found);
  }
}

// ---- the check ----

function parsed(text) {
  const listed = new Map();
  for (const line of text.split("\n")) {
    const match = /^([0-9a-fA-F]{64})[ \t]+\*?(.+?)\r?$/.exec(line);
    if (match) listed.set(match[2], match[1].toLowerCase());
  }
  return listed;
}

async function check(files, step) {
  const absent = LISTS.filter((name) => !files.has(name));
  if (absent.length > 0) {
    return { count: 0, faults: [`${absent.join(" and ")}: not in the chosen folder; choose the folder that contains this page`] };
  }
  const listed = new Map();
  for (const name of LISTS) {
    for (const [path, digest] of parsed(await files.get(name).text())) listed.set(path, digest);
  }
  const faults = [];
  let done = 0;
  for (const [path, digest] of listed) {
    const file = files.get(path);
    if (!file) faults.push(`${path}: missing`);
    else if (await sha256(new Uint8Array(await file.arrayBuffer())) !== digest) faults.push(`${path}: changed`);
    done += 1;
    step(done, listed.size);
  }
  for (const path of files.keys()) {
    if (!listed.has(path) && !UNLISTED.test(path)) faults.push(`${path}: added`);
  }
  return { count: listed.size, faults };
}

// ---- the page ----

const part = (id) => document.getElementById(id);

function say(result) {
  const whole = result.count > 0 && result.faults.length === 0;
  part("verdict").textContent = whole ? "All listed files are unchanged" : "Files are missing, changed or added";
  part("verdict").className = whole ? "good" : "bad";
  part("counts").textContent = `${result.count} files were compared with the lists; ${result.faults.length} differ.`;
  part("faults").replaceChildren(...result.faults.map((fault) => {
    const item = document.createElement("li");
    item.textContent = fault;
    return item;
  }));
  for (const id of ["verdict", "counts"]) part(id).hidden = false;
}

async function run(files) {
  for (const id of ["verdict", "counts"]) part(id).hidden = true;
  part("faults").replaceChildren();
  part("bar").hidden = false;
  try {
    say(await check(await files, (done, all) => { part("bar").value = done / all; }));
  } catch (error) {
    say({ count: 0, faults: [`The files cannot be read here (${error.message || error.name}). Choose the folder instead of dragging it.`] });
  }
  part("bar").hidden = true;
}

part("choose").addEventListener("change", (event) => { run(chosenFiles(event.target.files)); });
const drop = part("drop");
drop.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
drop.addEventListener("dragleave", () => { drop.classList.remove("over"); });
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  const found = new Map();
  const entry = event.dataTransfer.items[0] && event.dataTransfer.items[0].webkitGetAsEntry();
  if (entry && entry.isDirectory) run(droppedFiles(entry, "", found).then(() => found));
  else say({ count: 0, faults: ["Drag the whole folder, not files out of it."] });
});
