// The field in the section, under the drawing and to its scale, drawn from the solve that is shown; and a probe.
import { css, pixelOf, shareOf, SPAN } from './colours.js';
import { draw, make } from './dom.js';
import { layers } from './drawing.js';
import { fresh, on, state, touch } from './store.js';
import { number } from './words.js';

/** @typedef {import('./frames.js').Numbers} Numbers */
/**
 * A plane as the program gives it, SI (cases/live/answers.py).
 * @typedef {{at: number, u: Numbers, z: Numbers, b: Numbers, strings: Numbers, inside: Numbers, names: string[], lines: Numbers[],
 *   step: number, per_metre: boolean, endless: boolean, string: number}} Plane
 */

const MODES = { magnets: 'field of the magnets', both: 'with the strings', added: 'only what the strings add', off: 'no field' };
const FACTORS = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];

let mode = 'magnets';
/** Which of the grid's places the probe is at. @type {[number, number] | null} */
let place = null;
let seen = '';
/** @type {HTMLElement} */
let box;
/** @type {Record<string, HTMLElement>} */
const parts = {};
const SHOWN_IN = /** @type {Record<string, string>} */ ({ along: 'along the strings', side: 'across the strings' });
const CLOSE = 34; // of the bar's units: numbers nearer to each other run together

/** @param {HTMLElement} stage what the drawing is in */
export function fields(stage) {
  const choice = make('select', { id: 'field-mode', 'aria-label': 'Field in the drawing', onchange: () => { mode = choice.value; show(); } },
    ...Object.entries(MODES).map(([value, words]) => make('option', { value }, words)));
  parts.scale = make('div', {});
  parts.note = make('p', { id: 'field-note' });
  parts.there = make('button', { type: 'button', id: 'field-there', hidden: true, onclick: () => { state.view = elsewhere(); touch('view'); } });
  parts.probe = make('p', { id: 'probe', className: 'probe', tabIndex: 0, role: 'application', 'aria-label': 'Probe of the field; arrows move it' });
  box = make('div', { className: 'fields' }, choice, parts.scale, make('div', {}, parts.note, parts.there, parts.probe));
  stage.append(box);
  const svg = /** @type {SVGSVGElement} */ (stage.querySelector('svg'));
  svg.addEventListener('pointermove', (event) => {
    if (event.buttons) return;
    const matrix = svg.getScreenCTM()?.inverse();
    const plane = planeHere();
    if (!matrix || !plane) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    put(plane, nearest(plane.u, at.x / 1e3), nearest(plane.z, -at.y / 1e3));
  });
  parts.probe.addEventListener('keydown', (event) => {
    const way = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowDown: [0, -1], ArrowUp: [0, 1] })[event.key];
    const plane = planeHere();
    if (!way || !plane) return;
    event.preventDefault();
    const step = event.shiftKey ? 10 : 1;
    const [i, j] = place ?? [Math.floor(plane.u.length / 2), Math.floor(plane.z.length / 2)];
    put(plane, i + step * way[0], j + step * way[1]);
  });
  on('drawn fields', show);
}

/** The plane that the view looks at. @returns {Plane | null} */
function planeHere() { return (mode !== 'off' && state.answers.fields?.answer?.planes?.[state.view]) || null; }

/** A view that has the field, while this one has none. */
function elsewhere() { return Object.keys(state.answers.fields?.answer?.planes ?? {}).find((view) => view !== state.view) ?? ''; }

/** @param {Numbers} grid @param {number} value */
function nearest(grid, value) {
  const step = (grid[grid.length - 1] - grid[0]) / (grid.length - 1);
  return Math.round((value - grid[0]) / step);
}

/** B at a place of the grid as it is shown, T. @param {Plane} p @param {number} k @returns {number[]} */
function at(p, k) {
  const n = p.u.length * p.z.length;
  return [0, 1, 2].map((c) => (mode === 'added' ? 0 : p.b[c * n + k]) + (mode === 'magnets' ? 0 : p.strings[c * n + k]));
}

function show() {
  const under = layers.under;
  const svg = under?.ownerSVGElement;
  if (!under || !svg) return;
  const plane = planeHere();
  const answer = state.answers.fields?.answer;
  box.hidden = state.view === 'space';
  svg.classList.toggle('fielded', Boolean(plane));
  svg.classList.toggle('side', state.view === 'side');
  if (seen !== state.view) place = null;
  seen = state.view;
  under.replaceChildren();
  parts.scale.hidden = !plane;
  parts.probe.hidden = !plane;
  const other = plane || mode === 'off' || !(answer?.says?.[state.view] || state.view === 'above') ? '' : elsewhere();
  parts.there.hidden = !other;
  parts.there.textContent = other ? `Show it ${SHOWN_IN[other]}` : '';
  parts.note.textContent = plane || mode === 'off' ? '' : answer?.refused ?? (other ? `the field of this pickup is shown as it is seen ${SHOWN_IN[other]}`
    : answer?.says?.[state.view] ?? 'the field is being computed');
  if (!plane) return;
  const begun = performance.now();
  under.classList.toggle('before', !fresh('fields'));
  const before = made;
  if (made?.plane !== plane || made.mode !== mode) made = madeOf(plane);
  under.append(clipOf(plane), ...made.nodes);
  if (made !== before) scale(made.high, made.factor);
  parts.note.textContent = said(plane, made.factor);
  if (place) put(plane, ...place);
  else parts.probe.textContent = 'probe: point at the picture, or focus here and use the arrows';
  if (made !== before) performance.measure('field picture', { start: begun, end: performance.now() });
}

/** The picture that is shown: a hand moves what lies over it, and it stays. @type {{plane: Plane, mode: string, nodes: SVGElement[], high: number, factor: number} | null} */
let made = null;

/** @param {Plane} plane */
function madeOf(plane) {
  const sizes = sizesOf(plane);
  const high = highest(plane);
  const factor = mode === 'added' ? factorOf(sizes, high) : 1;
  const nodes = [picture(plane, sizes, high, factor, false), picture(plane, sizes, high, factor, true), ...(mode === 'added' ? [] : linesOf(plane))];
  return { plane, mode, nodes, high, factor };
}

/** @param {Plane} p @param {number} factor */
function said(p, factor) {
  const where = state.view === 'along' ? 'through the row' : `${number(1e3 * p.at).replace('-', '−')} mm across`;
  const step = p.per_metre ? `${number(1e6 * p.step)} µWb a metre` : `${number(1e6 * p.step)} µWb`;
  const what = mode === 'added' ? `strings × ${factor}, the poles held as they are` : `${step} between lines`;
  return `${fresh('fields') ? '' : 'of the design before; '}plane ${where}, ${p.endless ? 'bars taken as endless; ' : ''}${what}`;
}

/** @param {Plane} p */
function sizesOf(p) {
  const n = p.u.length * p.z.length;
  const out = new Float32Array(n);
  const [magnets, added] = [mode === 'added' ? 0 : 1, mode === 'magnets' ? 0 : 1];
  for (let k = 0; k < n; k += 1) {
    let square = 0;
    for (let c = k; c < 3 * n; c += n) {
      const b = (magnets && p.b[c]) + (added && p.strings[c]);
      square += b * b;
    }
    out[k] = Math.sqrt(square);
  }
  return out;
}

/** The brightest of the magnets' field, for all ways of showing. @param {Plane} p */
function highest(p) {
  const n = p.u.length * p.z.length;
  let high = 0;
  for (let k = 0; k < n; k += 1) high = Math.max(high, p.b[k] ** 2 + p.b[n + k] ** 2 + p.b[2 * n + k] ** 2);
  return Math.sqrt(high) || 1e-3;
}

/** A round number of times that what is added shows on the scale of the whole. @param {Float32Array} sizes @param {number} high */
function factorOf(sizes, high) {
  const most = sizes.reduce((a, b) => (b > a ? b : a), 0);
  return [...FACTORS].reverse().find((f) => f * most <= high) ?? 1;
}

/** Where bodies are in this plane, as the drawing has them. @param {Plane} p */
function clipOf(p) {
  const own = state.scene.shapes[state.view].filter((/** @type {any} */ s) => p.names.some((name) => s.label === name || s.item === name.replace(' ', '.')));
  const here = state.view === 'along' ? own : own.filter((/** @type {any} */ s) => onPlane(p, s));
  const d = here.map((/** @type {any} */ s) => outline(s.outline)).join('');
  return draw('clipPath', { id: 'solid' }, draw('path', { d }));
}

/** Across the strings bodies stand one behind the other. @param {Plane} p @param {any} s */
function onPlane(p, s) {
  const i = p.names.findIndex((name) => s.label === name || s.item === name.replace(' ', '.'));
  return p.inside.includes(i);
}

/** @param {Numbers} points */
function outline(points) {
  let d = '';
  for (let i = 0; i < points.length; i += 2) d += `${i ? 'L' : 'M'}${points[i].toFixed(3)} ${(-points[i + 1]).toFixed(3)}`;
  return `${d}Z`;
}

/**
 * |B| in colours, in the bodies or out of them: each goes on a little beyond its border and is cut there, for B jumps.
 * @param {Plane} p @param {Float32Array} sizes @param {number} high @param {number} factor @param {boolean} solid
 */
function picture(p, sizes, high, factor, solid) {
  const [w, h] = [p.u.length, p.z.length];
  const values = new Float32Array(w * h);
  for (let k = 0; k < values.length; k += 1) values[k] = p.inside[k] >= 0 === solid || mode === 'added' ? sizes[k] : NaN;
  if (mode !== 'added') for (let n = 0; n < 4; n += 1) grow(values, w, h);
  const canvas = /** @type {HTMLCanvasElement} */ (make('canvas', { width: w, height: h }));
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d'));
  const image = context.createImageData(w, h);
  const pixels = new Uint32Array(image.data.buffer);
  for (let k = 0; k < values.length; k += 1) pixels[(h - 1 - Math.floor(k / w)) * w + (k % w)] = pixelOf(factor * values[k], high);
  context.putImageData(image, 0, 0);
  const step = 1e3 * (p.u[w - 1] - p.u[0]) / (w - 1);
  const node = draw('image', { x: 1e3 * p.u[0] - step / 2, y: -1e3 * p.z[h - 1] - step / 2, width: w * step, height: h * step,
    preserveAspectRatio: 'none', href: canvas.toDataURL() });
  if (solid) node.setAttribute('clip-path', 'url(#solid)');
  return node;
}

/** Places without a value take that of a neighbour. @param {Float32Array} values @param {number} w @param {number} h */
function grow(values, w, h) {
  const before = values.slice();
  for (let k = 0; k < before.length; k += 1) {
    if (before[k] >= 0) continue;
    const i = k % w;
    if (i && before[k - 1] >= 0) values[k] = before[k - 1];
    else if (i < w - 1 && before[k + 1] >= 0) values[k] = before[k + 1];
    else if (k >= w && before[k - w] >= 0) values[k] = before[k - w];
    else if (k < w * (h - 1) && before[k + w] >= 0) values[k] = before[k + w];
  }
}

/** White in dark air, dark in bright bodies. @param {Plane} p */
function linesOf(p) {
  let d = '';
  for (const line of p.lines) {
    const n = line.length / 2;
    for (let i = 0; i < n; i += 1) d += `${i ? 'L' : 'M'}${(1e3 * line[i]).toFixed(2)} ${(-1e3 * line[n + i]).toFixed(2)}`;
  }
  return [draw('path', { d, class: 'flux-line' }), draw('path', { d, class: 'flux-line inner', 'clip-path': 'url(#solid)' })];
}

/** The bar of colours with mT over it and gauss under it. @param {number} high @param {number} factor */
function scale(high, factor) {
  const [x0, x1] = [8, 242];
  const stops = Array.from({ length: 12 }, (_, i) => draw('stop', { offset: i / 11, 'stop-color': css(i / 11) }));
  const bar = draw('svg', { viewBox: '0 0 280 40', class: 'bar-of-b', role: 'img',
    'aria-label': `colours from ${number(1e3 * high / factor / 10 ** SPAN, 2)} to ${number(1e3 * high / factor, 2)} mT` },
  draw('defs', {}, draw('linearGradient', { id: 'of-b' }, ...stops)), draw('rect', { x: x0, y: 14, width: x1 - x0, height: 11, fill: 'url(#of-b)' }));
  const ticks = [];
  for (let e = -8; e < 3; e += 1) {
    for (const m of [1, 2, 5]) {
      const share = shareOf(factor * m * 10 ** e, high);
      if (share >= 0 && share <= 1) ticks.push({ m, e, x: x0 + share * (x1 - x0) });
    }
  }
  /** @type {number[]} */
  const taken = [];
  for (const { m, e, x } of [...ticks].sort((a, b) => a.m - b.m)) { // the ones first: what is next to them has no room
    bar.append(draw('line', { x1: x, x2: x, y1: 14, y2: 25 }));
    if (taken.some((at) => Math.abs(at - x) < CLOSE)) continue;
    taken.push(x);
    const anchor = x < 22 ? 'start' : 'middle';
    bar.append(draw('text', { x, y: 11, 'text-anchor': anchor }, `${number(m * 10 ** (e + 3), 1)}`), draw('text', { x, y: 38, 'text-anchor': anchor }, `${number(m * 10 ** (e + 4), 1)}`));
  }
  bar.append(draw('text', { x: 280, y: 11, 'text-anchor': 'end' }, 'mT'), draw('text', { x: 280, y: 38, 'text-anchor': 'end' }, 'G'));
  parts.scale.replaceChildren(bar);
}

/** Put the probe at a place of the grid. @param {Plane} p @param {number} i @param {number} j */
function put(p, i, j) {
  const [w, h] = [p.u.length, p.z.length];
  place = [Math.min(Math.max(i, 0), w - 1), Math.min(Math.max(j, 0), h - 1)];
  const k = place[1] * w + place[0];
  const [u, z] = [1e3 * p.u[place[0]], 1e3 * p.z[place[1]]];
  const b = at(p, k);
  const inside = p.inside[k];
  const where = Number.isNaN(p.strings[k]) ? 'in a string' : inside >= 0 ? `in ${p.names[inside]}` : 'in air';
  const [mT, G] = [(/** @type {number} */ v) => text(1e3 * v, 2), (/** @type {number} */ v) => text(1e4 * v, 1)];
  const axis = state.view === 'along' ? 'y' : 'x';
  const size = Math.hypot(...b);
  parts.probe.textContent = `${axis} ${text(u, 2)}, z ${text(z, 2)} mm, ${where}: ${Number.isNaN(size) ? '–'
    : `${mT(size)} mT (${G(size)} G); x ${mT(b[0])}, y ${mT(b[1])}, z ${mT(b[2])} mT`}`;
  parts.probe.setAttribute('aria-valuetext', parts.probe.textContent);
  parts.probe.setAttribute('aria-valuenow', String(k));
  const under = layers.under;
  under?.querySelectorAll('.cross').forEach((node) => node.remove());
  const d = `M${u - 1.6} ${-z}H${u - 0.4}M${u + 0.4} ${-z}H${u + 1.6}M${u} ${-z - 1.6}V${-z - 0.4}M${u} ${-z + 0.4}V${-z + 1.6}`;
  under?.append(draw('path', { d, class: 'cross edge' }), draw('path', { d, class: 'cross' }));
}

/** With so many decimals, a nothing without a sign. @param {number} value @param {number} decimals */
function text(value, decimals) {
  const made = value.toFixed(decimals);
  return Number(made) === 0 ? made.replace('-', '') : made.replace('-', '−');
}
