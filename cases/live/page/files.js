// Files by the browser's own open and save, the design in the address, and papers to take along.
import { inAddress, packed } from './address.js';
import { byId, make } from './dom.js';
import { on, order, replace, say, state, touch } from './store.js';

const LARGEST = 2e5; // bytes
const PAPERS = { report: 'Report', sheet: 'Winding sheet', table: 'Table of strings (CSV)', figures: 'Figures (PNG, SVG)' };

export function files() {
  byId('open').onclick = ask;
  byId('save').onclick = save;
  byId('more').append(papers());
  addEventListener('keydown', (event) => {
    if (!(event.ctrlKey || event.metaKey)) return;
    const work = { s: save, o: ask }[event.key.toLowerCase()];
    if (work) { event.preventDefault(); work(); }
  });
  addEventListener('dragover', (event) => event.preventDefault());
  addEventListener('drop', (event) => {
    event.preventDefault();
    const file = event.dataTransfer?.files[0];
    if (file) read(file);
  });
  on('scene opened', () => { address(); mark(); });
  on('report sheet table figures', hand);
  addEventListener('hashchange', () => fromAddress());
}

function ask() {
  const input = make('input', { type: 'file', accept: '.toml' });
  input.onchange = () => { if (input.files?.[0]) read(input.files[0]); };
  input.click();
}

/** @param {File} file */
async function read(file) {
  if (file.size > LARGEST) { say('this file is larger than 200 kB; a case file is far smaller'); return; }
  const text = await file.text();
  if (!(await replace(text))) return;
  state.name = file.name;
  state.saved = text;
  touch('opened');
}

function save() {
  download(new Blob([state.text], { type: 'application/toml' }), /\.toml$/.test(state.name) ? state.name : `${state.name || 'design'}.toml`);
  state.saved = state.text;
  mark();
}

/** @param {Blob} blob @param {string} name */
export function download(blob, name) {
  const link = make('a', { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10e3);
}

function mark() {
  const changed = state.text !== state.saved;
  byId('save').textContent = changed ? 'Save •' : 'Save';
  byId('save').setAttribute('aria-label', changed ? 'Save, there are changes' : 'Save');
}

function papers() {
  const summary = make('summary', {}, 'Take along …');
  const close = () => { box.open = false; summary.focus(); };
  const box = make('details', { id: 'papers', className: 'menu' }, summary, make('div', {}, ...Object.entries(PAPERS).map(([name, words]) =>
    make('button', { type: 'button', onclick: () => { close(); order(name); } }, words))));
  box.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => { if (event.key === 'Escape' && box.open) close(); });
  addEventListener('pointerdown', (event) => { if (!box.contains(/** @type {Node} */ (event.target))) box.open = false; });
  return box;
}

function hand() {
  for (const name of Object.keys(PAPERS)) {
    const found = state.answers[name];
    if (!found) continue;
    delete state.answers[name];
    const a = found.answer;
    if (a.refused) { say(a.refused); continue; }
    const content = a.base64 ? Uint8Array.from(atob(a.base64), (c) => c.charCodeAt(0)) : a.text;
    download(new Blob([content], { type: a.type }), a.file);
    if (a.without?.length) say(`left out: ${a.without.join('; ')}`);
  }
}

/** @type {number | undefined} */
let writing;
let own = '';

/** The address holds the design, packed, so that it can be kept as a bookmark or sent. */
function address() {
  clearTimeout(writing);
  if (!state.text) return;
  writing = window.setTimeout(async () => {
    own = `#design=${await packed(state.text)}`;
    if (location.hash !== own) history.replaceState(null, '', own);
  }, 300);
}

export async function fromAddress() {
  if (location.hash === own) return;
  const text = await inAddress().catch(() => null);
  if (text !== null && text !== state.text) replace(text);
}
