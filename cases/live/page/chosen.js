// What is chosen, key by key, in the case file's own language.
import { make } from './dom.js';
import { chooser } from './drawing.js';
import { edit, on, state } from './store.js';
import { millimetres } from './words.js';

const FIRST = ['gap', 'height', 'fretted_gap', 'position', 'gauge', 'core', 'pitch', 'face', 'material', 'diameter', 'length', 'tip', 'turns', 'wire',
  'spacing', 'count', 'charge', 'polarity', 'magnetised', 'along', 'across', 'bottom', 'top'];

/** @param {HTMLElement} place */
export function chosen(place) {
  const head = make('div', { className: 'choose' });
  const body = make('div', { className: 'keys' });
  place.replaceChildren(head, body);
  chooser(head);
  on('scene chosen', () => show(body));
}

/** @param {HTMLElement} body */
function show(body) {
  const item = state.scene.items[state.chosen];
  if (!item) return;
  const active = /** @type {HTMLElement | null} */ (document.activeElement);
  const focused = active && body.contains(active) ? active.id : '';
  const opened = new Set([...body.querySelectorAll('details[open]')].map((d) => d.id));
  const tables = item.tables.map((/** @type {string} */ path) => state.scene.tables.find((/** @type {any} */ t) => t.path === path)).filter(Boolean);
  body.replaceChildren(...tables.map((/** @type {any} */ table, /** @type {number} */ i) => tableOf(table, i === 0, opened)));
  if (focused) document.getElementById(focused)?.focus();
}

/** @param {any} table @param {boolean} first @param {Set<string>} opened */
function tableOf(table, first, opened) {
  const id = `table-${table.path || 'pickup'}`;
  const keys = [...table.keys].sort((a, b) => rank(a) - rank(b));
  const often = keys.filter((k) => k.written || FIRST.includes(k.key) && rank(k) < 100);
  const rest = keys.filter((k) => !often.includes(k));
  const box = make('details', { id, open: first || opened.has(id) }, make('summary', {}, `[${table.title}]`),
    make('div', { className: 'table' }, ...often.map((k) => field(table, k))),
    ...(rest.length ? [make('details', { id: `${id}-more`, open: opened.has(`${id}-more`), className: 'more' }, make('summary', {}, 'more keys'),
      make('div', { className: 'table' }, ...rest.map((k) => field(table, k))))] : []));
  if (table.many) {
    box.append(make('p', { className: 'bar' },
      make('button', { type: 'button', onclick: () => edit({ act: 'copy', path: table.path }) }, 'One more like it'),
      make('button', { type: 'button', onclick: () => edit({ act: 'remove', path: table.path }) }, 'Remove')));
  }
  return box;
}

/** @param {any} k */
function rank(k) {
  const at = FIRST.indexOf(k.key);
  return at < 0 || (!k.written && ['height', 'fretted_gap', 'core', 'position'].includes(k.key)) ? 100 : at;
}

/** @param {any} table @param {any} k */
function field(table, k) {
  const path = table.path ? `${table.path}.${k.key}` : k.key;
  const id = `key-${path}`;
  const list = k.options.length ? `${id}-list` : '';
  const input = make('input', { id, value: k.written || '', placeholder: k.value || inEffect(path), title: `${k.says} (${path})`, autocomplete: 'off', spellcheck: false });
  if (list) input.setAttribute('list', list);
  const commit = async () => {
    const typed = input.value.trim();
    if (typed === (k.written || '')) return;
    const good = await edit(typed ? { path, value: typed } : { act: 'unset', path });
    input.setAttribute('aria-invalid', String(!good));
    if (!good) input.setAttribute('aria-describedby', 'says');
  };
  input.addEventListener('change', commit);
  input.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    if (event.key === 'Escape') { input.value = k.written || ''; input.removeAttribute('aria-invalid'); }
  });
  const length = Math.max((k.written || k.value).length + (list ? 5 : 0), k.key.length);
  return make('div', { className: `key${length > 24 ? ' longer' : length > 12 ? ' long' : ''}` }, make('label', { for: id, title: k.says }, k.key.replaceAll('_', ' ')), input,
    ...(list ? [make('datalist', { id: list }, ...k.options.map((/** @type {string} */ o) => make('option', { value: o })))] : []));
}

/** What holds where a string says nothing itself. @param {string} path */
function inEffect(path) {
  const match = /^string\.(\d+)\.(gap|position)$/.exec(path);
  const one = match && state.scene.strings[Number(match[1]) - 1];
  return one ? millimetres(match[2] === 'gap' ? one.gap : one.y) : '';
}
