// Designs that stay: what is different now, beside each.
import { byId, make } from './dom.js';
import { complete, fresh, on, replace, say, state, touch } from './store.js';
import { number, quantity, signed } from './words.js';

const MOST = 4;
/** Designs of pins that were asked for. @type {Set<number>} */
const asked = new Set();
const KEPT = ['strings', 'maps', 'loop', 'coil', 'winding', 'hum', 'pull'];

/** A difference; none is said so. @param {number} by @param {string} [unit] */
const apart = (by, unit = 'dB') => (Math.abs(by) < 0.05 ? 'equal' : signed(by, unit));
/** @param {number | undefined} a @param {number | undefined} b */
const ratio = (a, b) => {
  if (!a || !b) return '–';
  const size = 100 * Math.abs(a / b - 1);
  return size < 0.005 ? 'equal' : `${a >= b ? '+' : '−'}${size < 0.1 ? size.toFixed(2) : number(size, 2)} %`;
};
/** @param {number | undefined} a @param {number | undefined} b */
const decibels = (a, b) => (a && b ? apart(20 * Math.log10(a / b)) : '–');
/** @param {number | null | undefined} a @param {number | null | undefined} b */
const levels = (a, b) => (a === null || a === undefined || b === null || b === undefined ? '–' : apart(a - b));
/** @param {number | null | undefined} a @param {number | null | undefined} b */
const cents = (a, b) => (a === null || a === undefined || b === null || b === undefined ? '–' : apart(a - b, 'ct'));

/**
 * What is compared: a value of the answers, how it is written, and how two differ.
 * @type {[string, (answers: any, i: number) => any, (value: any) => string, (now: any, then: any) => string][]}
 */
const FIGURES = [
  ['S, mV per m/s', (a, i) => a.strings?.answer.strings?.[i]?.sensitivity, (v) => number(1e3 * v), decibels],
  ['field at string, mT', (a, i) => a.strings?.answer.strings?.[i]?.bias[2], (v) => number(1e3 * v), ratio],
  ['level, dB', (a, i) => a.strings?.answer.strings?.[i]?.level, (v) => signed(v, ''), levels],
  ['equal pluck force, dB', (a, i) => a.strings?.answer.strings?.[i]?.level_force, (v) => signed(v, ''), levels],
  ['pull, cents', (a, i) => a.pull?.answer.strings?.[i]?.cents_z, (v) => signed(v, ''), cents],
  ['R', (a) => a.coil?.answer.resistance, (v) => quantity(v, 'Ω'), ratio],
  ['L', (a) => a.coil?.answer.inductance, (v) => quantity(v, 'H'), ratio],
  ['loaded peak', (a) => a.coil?.answer.loaded?.resonance, (v) => quantity(v, 'Hz'), ratio],
  ['hum area, m²', (a) => { const h = a.hum?.answer; return h?.turns && Math.hypot(...[0, 1, 2].map((k) => h.turns[k] + h.poles[k])); }, (v) => number(v), decibels],
];

export function pinning() {
  byId('pin').onclick = pin;
  on('answers', () => {
    let more = false;
    for (const one of state.pins) {
      for (const topic of KEPT) {
        const found = state.answers[topic];
        if (found && found.design === one.design && one.answers[topic] !== found) { one.answers[topic] = found; more = true; }
      }
    }
    if (more) touch('pins');
  });
  on('done', () => { // the present design is known: now what a pin lacks, once
    const lacking = state.busy || state.moving ? undefined : state.pins.find((p) => !asked.has(p.design) && KEPT.some((t) => !p.answers[t]));
    if (!lacking) return;
    asked.add(lacking.design);
    complete(lacking, KEPT.filter((t) => !lacking.answers[t]));
  });
}

function pin() {
  if (state.pins.length === MOST) { say(`there are ${MOST} pins; take one off first`); return; }
  const answers = Object.fromEntries(KEPT.filter((t) => fresh(t)).map((t) => [t, state.answers[t]]));
  const used = new Set(state.pins.map((p) => p.name));
  const name = [...'ABCD'].find((letter) => !used.has(letter)) ?? 'A';
  state.pins.push({ name, text: state.text, design: state.design, answers });
  state.panel = 'pins';
  touch('pins', 'panel');
}

/** @param {HTMLElement} place */
export function pins(place) {
  on('pins answers string panel scene', () => { if (state.panel === 'pins') show(place); });
}

/** @param {HTMLElement} place */
function show(place) {
  if (!state.pins.length) {
    place.replaceChildren(make('p', {}, 'Pin keeps the design as it is now. It stays as a thin line in every plot, with the differences beside, while you go on.'));
    return;
  }
  const i = state.string - 1;
  const now = Object.fromEntries(Object.entries(state.answers).filter(([topic]) => fresh(topic)));
  const head = make('tr', {}, make('th', { scope: 'col' }, `string ${state.string}`), make('th', { scope: 'col' }, 'now'),
    ...state.pins.map((p) => make('th', { scope: 'col' }, make('span', { className: `pin pin-${p.name}` }, p.name))));
  const rows = FIGURES.map(([words, get, write, differ]) => {
    const present = get(now, i);
    return make('tr', {}, make('th', { scope: 'row' }, words), make('td', {}, present === undefined || present === null ? '–' : write(present)),
      ...state.pins.map((p) => {
        const then = get(p.answers, i);
        return make('td', { title: then === undefined || then === null ? '' : `${p.name}: ${write(then)}` }, differ(present, then));
      }));
  });
  const acts = state.pins.map((p) => make('p', { className: 'bar' }, make('span', { className: `pin pin-${p.name}` }, p.name),
    make('button', { type: 'button', onclick: () => replace(p.text) }, `Go back to ${p.name}`),
    make('button', { type: 'button', onclick: () => { state.pins.splice(state.pins.indexOf(p), 1); touch('pins'); } }, `Take ${p.name} off`)));
  place.replaceChildren(make('table', { className: 'pins' }, make('caption', {}, 'The present design against each pin'),
    make('thead', {}, head), make('tbody', {}, ...rows)), ...acts);
}
