// The coil at its terminals, what controls and cable make of it, and what it hears of the mains.
import { draw, make } from './dom.js';
import { turned } from './linkage.js';
import { known, levels, network, wound } from './network.js';
import { plot } from './plot.js';
import { edit, fresh, on, state } from './store.js';
import { number, quantity, signed } from './words.js';

const SHOWN = 241; // of the frequencies, up to 20 kHz
const STEP = 0.05; // of a rotation, by arrow keys
const TURN = 150; // pixels of a drag for a whole rotation
const HOMES = 0.06; // µT, the mean of homes (postprocess/coil/hum.py)
const LOWEST = -40; // dB, of the picture
const FIELDS = /** @type {[string, string][]} */ ([['cable_length', 'cable'], ['cable_capacitance', 'cable, per length'], ['tone_capacitor', 'tone capacitor'],
  ['volume', 'volume control'], ['tone', 'tone control'], ['input_resistance', 'amplifier']]);

/** Rotations while a knob is held. @type {Record<string, number>} */
const held = {};
/** @type {any} */ let curve;
/** @type {any} */ const parts = {};

/** @param {HTMLElement} place */
export function coil(place) {
  [parts.list, parts.hum] = [make('dl', {}), make('div', {})];
  parts.said = make('p', { className: 'small' });
  const box = make('div', { className: 'plot' });
  parts.knobs = [knob('volume'), knob('tone')];
  parts.fields = make('div', { className: 'keys' });
  place.append(parts.list, make('h2', {}, 'Output over the voltage of the strings'), box, parts.said,
    make('div', { className: 'dials' }, ...parts.knobs.map((/** @type {any} */ k) => k.box)), parts.fields, parts.hum);
  curve = plot(box, { x: 'Hz', y: 'dB', log: true, height: 190, series: [{ label: 'now', stroke: 'accent' },
    ...['A', 'B', 'C', 'D'].map((label, i) => ({ label, stroke: 'soft', width: 1.1, dash: [[2, 3], [6, 3], [6, 3, 2, 3], [1, 5]][i] }))] });
  on('coil winding strings hum scene pins panel', () => { if (!place.hidden) show(); });
  on('scene panel', () => { if (!place.hidden) fields(); });
}

function load() { return { ...state.scene.load, ...held }; }

/** The coil as it is now, and whether the page has estimated it. */
function source() {
  const found = state.answers.coil?.answer;
  if (!found || found.refused) return null;
  const by = found.unmoved === state.scene.unmoved ? turned(state.scene.coils.map((/** @type {any} */ c) => c.turns), found.turns) : null;
  const of = { frequency: found.frequency, series: found.series, shunt: found.shunt, resistance: found.resistance };
  if (by === null || (by !== 1 && found.turns.length > 1)) return { found, of, by: 1, c: found.capacitance, is: fresh('coil') };
  const c = by !== 1 && fresh('winding') ? state.answers.winding.answer.coils[0].capacitance : found.capacitance;
  return { found, of: wound(of, by, (c + found.lead) / (found.capacitance + found.lead)), by, c, is: true };
}

function show() {
  const now = source();
  hums();
  for (const k of parts.knobs) k.show();
  if (!now) return;
  const { found, of, by } = now;
  const about = fresh('coil') ? '' : '≈ ';
  for (const node of [parts.list, curve.root.parentElement]) node.classList.toggle('dim', !now.is);
  const coils = state.answers.winding?.answer?.coils ?? [];
  const band = coils.length === 1 ? coils[0].capacitance_band : null;
  const rows = [['R', about + quantity(of.resistance, 'Ω')], ['L', about + quantity(by * by * found.inductance, 'H')],
    ['C', about + quantity(now.c, 'F') + (band && band[1] > band[0] ? ` (${number(1e12 * band[0], 2)} to ${number(1e12 * band[1], 2)} pF)` : '') + (found.lead ? `, lead ${quantity(found.lead, 'F')}` : '')],
    ['alone', found.resonance && by === 1 ? `resonates at ${quantity(found.resonance.frequency, 'Hz')}, ${quantity(found.resonance.impedance, 'Ω')}` : '–'],
    ...coils.map((/** @type {any} */ c) => [coils.length > 1 ? c.name : 'turns', `${Math.round(c.turns)} of ${c.wire}; ${c.packings.filter((/** @type {any} */ p) => p.most).map((/** @type {any} */ p) => `${p.name} ${Math.floor(p.most)}`).join(', ')} fit`])];
  parts.list.replaceChildren(...rows.flatMap(([a, b]) => [make('dt', {}, a), make('dd', {}, b)]));
  const hung = network(load());
  const frequency = Array.from(of.frequency).slice(0, SHOWN);
  const shown = (/** @type {import('./network.js').Network} */ n, /** @type {import('./network.js').Source} */ s) =>
    Array.from(levels(n, s).subarray(0, SHOWN), (v) => (v >= LOWEST ? v : null));
  const pins = ['A', 'B', 'C', 'D'].map((name) => {
    const pin = state.pins.find((p) => p.name === name)?.answers.coil?.answer;
    return pin && !pin.refused ? shown(network(pin.load), pin) : frequency.map(() => null);
  });
  curve.setData([frequency, shown(hung, of), ...pins]);
  curve.setScale('x', { min: 20, max: 20e3 });
  curve.root.classList.toggle('alone', !state.pins.length);
  ['A', 'B', 'C', 'D'].forEach((name, i) => {
    const there = state.pins.some((p) => p.name === name);
    if (curve.series[i + 2].show !== there) curve.setSeries(i + 2, { show: there });
  });
  const is = known(hung, of);
  parts.said.textContent = Number.isFinite(is.level)
    ? `${is.resonance ? `Peak of ${signed(is.peak)} at ${quantity(is.resonance, 'Hz')}` : 'No peak'}; ${is.corner ? `3 dB down at ${quantity(is.corner, 'Hz')}` : 'never 3 dB down'}; ${signed(is.level)} at low frequencies.`
    : 'The volume is shut: nothing comes out.';
}

/** A control that turns: drag it up and down, step it by arrow keys, or type. @param {'volume' | 'tone'} name */
function knob(name) {
  const key = `${name}_setting`;
  const hand = draw('line', { x1: 0, y1: -6, x2: 0, y2: -15 });
  const dial = /** @type {any} */ (draw('svg', { viewBox: '-20 -20 40 40', role: 'slider', tabindex: 0, class: 'dial', 'aria-label': `${name}, rotation`,
    'aria-valuemin': 0, 'aria-valuemax': 1, id: `knob-${name}` },
  draw('path', { d: 'M-12.7 12.7A18 18 0 1 1 12.7 12.7', class: 'scale' }), draw('circle', { r: 15 }), hand));
  const typed = make('input', { id: `set-${name}`, inputMode: 'decimal', 'aria-label': `${name}, 0 to 1` });
  const box = make('div', { className: 'knob-box' }, dial, make('label', { for: `set-${name}` }, name), typed);
  const value = () => held[key] ?? state.scene.load[key];
  const turn = (/** @type {number} */ v) => { held[key] = Math.round(1e3 * Math.min(Math.max(v, 0), 1)) / 1e3; show(); };
  const rest = async () => {
    const v = held[key];
    if (v !== undefined && v !== state.scene.load[key]) await edit({ path: `load.${key}`, value: String(v) });
    if (held[key] === v) delete held[key];
    show();
  };
  dial.addEventListener('keydown', (/** @type {KeyboardEvent} */ event) => {
    const way = /** @type {Record<string, number>} */ ({ ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 4, PageDown: -4 })[event.key];
    const to = event.key === 'Home' ? 0 : event.key === 'End' ? 1 : way ? value() + STEP * way * (event.shiftKey ? 0.2 : 1) : null;
    if (to === null) return;
    event.preventDefault();
    turn(to);
    rest();
  });
  dial.addEventListener('pointerdown', (/** @type {PointerEvent} */ event) => {
    const [from, y, x] = [value(), event.clientY, event.clientX];
    dial.setPointerCapture(event.pointerId);
    dial.onpointermove = (/** @type {PointerEvent} */ e) => turn(from + (y - e.clientY + e.clientX - x) / TURN);
    dial.onpointerup = dial.onpointercancel = () => { dial.onpointermove = dial.onpointerup = dial.onpointercancel = null; rest(); };
  });
  typed.addEventListener('change', () => {
    const v = Number(typed.value.replace(',', '.'));
    if (typed.value.trim() && v >= 0 && v <= 1) { turn(v); rest(); } else typed.value = String(value());
  });
  return { box, show: () => {
    const there = state.scene.load.controls !== 'none' && (name === 'volume' || state.scene.load.controls === 'volume and tone');
    box.hidden = !there;
    const v = value();
    hand.setAttribute('transform', `rotate(${-135 + 270 * v})`);
    dial.setAttribute('aria-valuenow', String(v));
    dial.setAttribute('aria-valuetext', `${Math.round(100 * v)} %`);
    if (document.activeElement !== typed) typed.value = String(v);
  } };
}

/** Cable and parts, in the case file's own words. */
function fields() {
  const table = state.scene.tables.find((/** @type {any} */ t) => t.path === 'load');
  if (!table || parts.fields.contains(document.activeElement)) return;
  parts.fields.replaceChildren(...FIELDS.map(([key, words]) => {
    const k = table.keys.find((/** @type {any} */ one) => one.key === key);
    const id = `load-${key}`;
    const input = make('input', { id, value: k.written, placeholder: k.value, title: `${k.says} (load.${key})`, autocomplete: 'off', spellcheck: false });
    input.addEventListener('change', async () => {
      const path = `load.${key}`;
      const good = await edit(input.value.trim() ? { path, value: input.value.trim() } : { act: 'unset', path });
      input.setAttribute('aria-invalid', String(!good));
    });
    return make('div', { className: 'key' }, make('label', { for: id }, words), input);
  }));
}

function hums() {
  const found = state.answers.hum?.answer;
  if (!found || found.refused) return;
  const area = [0, 1, 2].map((i) => found.turns[i] + found.poles[i]);
  const most = Math.hypot(...area);
  const at = (/** @type {number} */ f, /** @type {number} */ a) => number(2 * Math.PI * f * Math.abs(a), 3);
  const rows = [['along the strings', area[0]], ['across them', area[1]], ['up', area[2]], ['worst', most]].map(([words, a]) =>
    make('tr', {}, make('th', { scope: 'row' }, words), ...[50, 60].map((f) => make('td', {}, Math.abs(Number(a)) < 1e-6 * most ? '0' : at(f, Number(a))))));
  const levels = found.signal.filter((/** @type {number} */ s) => s > 0).map((/** @type {number} */ s) => 20 * Math.log10(2e-6 * Math.PI * 50 * most * HOMES / s));
  parts.hum.className = fresh('hum') ? '' : 'dim';
  parts.hum.replaceChildren(make('h2', {}, 'Hum'),
    make('table', {}, make('caption', { className: 'small' }, 'µV in a field of 1 µT'), make('thead', {}, make('tr', {}, make('th', { scope: 'col' }, 'field'),
      ...['50 Hz', '60 Hz'].map((h) => make('th', { scope: 'col' }, h)))), make('tbody', {}, ...rows)),
    make('p', { className: 'small' }, levels.length ? `In ${HOMES} µT, the mean of homes, at worst: ${signed(Math.min(...levels))}${levels.length > 1 ? ` to ${signed(Math.max(...levels))}` : ''} against a string that swings ± 1 mm, at 50 Hz.` : ''));
}
