// The drawing is the control: everything to scale, moved by hand or by arrow keys.
import { draw, make } from './dom.js';
import { choose, edit, grasp, move, on, release, state, touch } from './store.js';
import { swinging } from './swing.js';
import { millimetres, number } from './words.js';

/** @typedef {{path: string, view: string, at: [number, number], axis: 'u' | 'v', value: number, label: string, rate: number, item: string, written: string}} Handle */

const MARGIN = 5; // mm round everything
const LOCK = 4; // pixels after which a movement is across or up
const STEP = 0.05; // mm, by arrow keys; ten times with Shift

/** What lies under the drawing in its own units, for pictures of the field. @type {{under: SVGGElement | null}} */
export const layers = { under: null };

/** @type {SVGSVGElement} */
let svg;
/** @type {Map<string, SVGGElement>} */
let knobs = new Map();

/** @param {HTMLElement} place */
export function drawing(place) {
  svg = /** @type {SVGSVGElement} */ (draw('svg', { role: 'group', 'aria-label': 'the pickup to scale' }));
  place.replaceChildren(svg);
  svg.addEventListener('pointerdown', (event) => down(event));
  on('scene view', show);
  on('swing drawn', swung);
}

/** The string that swings is moved as it is, nothing else is drawn again. */
function swung() {
  const { string, up } = swinging();
  for (const group of svg.querySelectorAll('.string[transform]')) group.removeAttribute('transform');
  if (string && state.view !== 'above') svg.querySelector(`.string[data-item="string.${string}"]`)?.setAttribute('transform', `translate(0 ${-up})`);
}

/** @returns {[number, number, number, number]} low u, low v, high u, high v, mm */
export function shownBox() {
  const [a, b] = axes();
  const { low, high } = below(state.scene.bounds);
  const tall = a === 0 || b === 0 ? 0 : 3;
  const least = b === 2 ? 0 : 12; // along the strings there is no end to see
  const mid = (low[b] + high[b]) / 2;
  return [low[a] - MARGIN, Math.min(low[b] - MARGIN, mid - least), high[a] + MARGIN, Math.max(high[b] + MARGIN + tall, mid + least)];
}

/** From above the bridge is below: what lies towards it counts down. @param {{low: number[], high: number[]}} box */
function below(box) {
  if (state.view !== 'above') return box;
  return { low: [-box.high[0], ...box.low.slice(1)], high: [-box.low[0], ...box.high.slice(1)] };
}

/** @returns {[number, number]} which of x, y, z is across and up */
function axes() { return /** @type {Record<string, [number, number]>} */ ({ along: [1, 2], above: [1, 0], side: [0, 2] })[state.view]; }

function show() {
  if (!state.scene || !(state.view in state.scene.shapes)) return;
  const [left, bottom, right, top] = shownBox();
  svg.setAttribute('viewBox', `${left} ${-top} ${right - left} ${top - bottom}`);
  const under = /** @type {SVGGElement} */ (draw('g', { class: 'under' }));
  layers.under = under;
  const shapes = state.scene.shapes[state.view].map(shape);
  const focused = /** @type {HTMLElement | null} */ (document.activeElement)?.dataset?.handle;
  const plate = state.view === 'above' ? [] : [draw('line', { class: 'plate', x1: left, x2: right, y1: 0, y2: 0 })];
  /** @type {Map<string, SVGGElement>} */
  const next = new Map();
  const handles = handlesHere().map((h) => {
    const name = `${h.view}|${h.path}|${h.axis}`;
    const knob = knobs.get(name) ?? knobFor(name);
    place(knob, h);
    next.set(name, knob);
    return knob;
  });
  knobs = next;
  const way = state.view === 'above' ? [draw('text', { class: 'way', x: right - 0.5, y: -bottom - 0.8, 'text-anchor': 'end' }, 'bridge ↓')] : [];
  const bodies = draw('g', {}, ...plate, ...shapes, ...state.scene.strings.map(string), ...way);
  svg.replaceChildren(under, bodies, draw('g', { class: 'knobs' }, ...handles));
  if (focused) /** @type {SVGGElement | null} */ (svg.querySelector(`[data-handle="${CSS.escape(focused)}"]`))?.focus();
  touch('drawn');
}

/** @returns {Handle[]} */
function handlesHere() {
  return state.scene.handles.filter((/** @type {Handle} */ h) => h.view === state.view && h.item === state.chosen);
}

/** @param {any} s */
function shape(s) {
  const pieces = s.rings ?? [s.outline];
  const d = pieces.map(path).join('');
  const node = draw('path', { d, class: `${s.kind}${s.item === state.chosen ? ' chosen' : ''}`, 'fill-rule': s.rule ?? 'evenodd', 'data-item': s.item });
  node.append(draw('title', {}, `${s.label}${s.material ? `, ${s.material}` : ''} (${s.path})`));
  if (!s.north || Math.hypot(...s.north) < 0.5) return node;
  return draw('g', {}, node, arrow(s));
}

/** Where its north points. @param {any} s */
function arrow(s) {
  const box = bounds(s.outline);
  const [u, v] = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
  const [a, b] = s.north;
  const room = Math.abs(a ? box[2] - box[0] : box[3] - box[1]);
  const size = Math.min(0.3 * Math.min(box[2] - box[0], box[3] - box[1], 6) + 0.21 * room, 0.4 * room);
  const head = Math.min(0.9, size / 2);
  const d = `M${u - a * size} ${-(v - b * size)}L${u + a * size} ${-(v + b * size)}`
    + `M${u + a * size - head * (a - b * 0.6)} ${-(v + b * size - head * (b + a * 0.6))}L${u + a * size} ${-(v + b * size)}`
    + `L${u + a * size - head * (a + b * 0.6)} ${-(v + b * size - head * (b - a * 0.6))}`;
  return draw('path', { d, class: 'north' });
}

/** @param {Float32Array} outline */
export function bounds(outline) {
  let [a, b, c, d] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < outline.length; i += 2) {
    a = Math.min(a, outline[i]); c = Math.max(c, outline[i]);
    b = Math.min(b, outline[i + 1]); d = Math.max(d, outline[i + 1]);
  }
  return [a, b, c, d];
}

/** @param {Float32Array} outline */
function path(outline) {
  let d = '';
  for (let i = 0; i < outline.length; i += 2) d += `${i ? 'L' : 'M'}${outline[i].toFixed(4)} ${(-outline[i + 1]).toFixed(4)}`;
  return `${d}Z`;
}

/** @param {any} s */
function string(s) {
  const item = `string.${s.number}`;
  const set = { class: `string${item === state.chosen ? ' chosen' : ''}`, 'data-item': item };
  const [left, bottom, right, top] = shownBox();
  const title = draw('title', {}, `string ${s.number}, ${s.pitch}: ${number(s.gap)} mm over ${state.scene.items[s.over]?.title ?? 'what lies under it'} (${s.path})`);
  if (state.view === 'along') {
    const group = draw('g', set, draw('circle', { cx: s.y, cy: -s.z, r: Math.max(s.radius, 0.2) }),
      draw('circle', { class: 'reach', cx: s.y, cy: -s.z, r: 2.2 }),
      draw('text', { x: s.y, y: -s.z - s.radius - 1.1, 'text-anchor': 'middle' }, String(s.number)), title);
    return group;
  }
  const line = state.view === 'above' ? { x1: s.y, x2: s.y, y1: -bottom, y2: -top }
    : { x1: left, x2: right, y1: -(s.z + s.slope * left), y2: -(s.z + s.slope * right) };
  return draw('g', set, draw('line', { ...line, 'stroke-width': Math.max(2 * s.radius, 0.15) }), draw('line', { ...line, class: 'reach', 'stroke-width': 2 }),
    ...(state.view === 'above' ? [draw('text', { x: s.y + s.radius + 0.5, y: -top + 2.4 }, String(s.number))] : []), title);
}

/** @param {string} name */
function knobFor(name) {
  const knob = /** @type {SVGGElement} */ (draw('g', { class: 'knob', role: 'slider', tabindex: 0, 'data-handle': name },
    draw('circle', { r: 1.5, class: 'reach' }), draw('path', {}), draw('title')));
  knob.addEventListener('keydown', key);
  return knob;
}

/** @param {SVGGElement} knob @param {Handle} h */
function place(knob, h) {
  const [u, v] = h.at;
  /** @type {any} */ (knob).handle = h;
  knob.setAttribute('transform', `translate(${u} ${-v})`);
  knob.setAttribute('aria-label', h.label);
  knob.setAttribute('aria-valuenow', h.value.toFixed(3));
  knob.setAttribute('aria-valuetext', millimetres(h.value));
  knob.setAttribute('aria-orientation', h.axis === 'u' ? 'horizontal' : 'vertical');
  const [, mark, title] = /** @type {any} */ (knob.children);
  mark.setAttribute('d', h.axis === 'u' ? 'M-.9 0L-.35-.45V.45ZM.9 0L.35-.45V.45Z' : 'M0-.9L-.45-.35H.45ZM0 .9L-.45.35H.45Z');
  title.textContent = `${h.label}: ${h.written || millimetres(h.value)} (${h.path})`;
}

/** @param {KeyboardEvent} event */
function key(event) {
  const h = /** @type {Handle} */ (/** @type {any} */ (event.currentTarget).handle);
  /** @type {Record<string, number>} */
  const ways = h.axis === 'u' ? { ArrowLeft: -1, ArrowRight: 1 } : { ArrowDown: -1, ArrowUp: 1 };
  const way = ways[event.key];
  if (!way) return;
  event.preventDefault();
  const by = way * STEP * (event.shiftKey ? 10 : 1);
  edit(...moved([h], h.axis === 'u' ? by : 0, h.axis === 'v' ? by : 0, Math.sign(h.rate)));
}

/**
 * What a movement by (du, dv) mm makes of handles; strings over what is raised stay, so their gaps get smaller by as much.
 * @param {Handle[]} handles @param {number} du @param {number} dv @param {number} [rate] @param {Handle[]} [strings] as they were
 */
function moved(handles, du, dv, rate, strings = over(handles)) {
  return [...handles.map((h) => ({ path: h.path, value: millimetres(h.value + (rate ?? h.rate) * (h.axis === 'u' ? du : dv)) })),
    ...strings.map((h) => ({ path: h.path, value: millimetres(h.value - dv) }))];
}

/** Gaps of the strings that count from what is raised with these handles: a face, or the top of a body. @param {Handle[]} handles @returns {Handle[]} */
function over(handles) {
  const raised = handles.filter((h) => /face\.\d+$|^body\.\d+\.(top|bottom)$/.test(h.path) || (/^body\.\d+\.height$/.test(h.path) && h.rate > 0)).map((h) => h.item);
  const paths = state.scene.strings.filter((/** @type {any} */ s) => raised.includes(s.over)).map((/** @type {any} */ s) => `string.${s.number}.gap`);
  return state.scene.handles.filter((/** @type {Handle} */ h) => h.view === 'along' && paths.includes(h.path));
}

/** @param {PointerEvent} event */
function down(event) {
  const target = /** @type {Element} */ (event.target);
  const knob = target.closest('.knob');
  const item = target.closest('[data-item]');
  if (event.button !== 0 || (!knob && !item)) return;
  /** @type {Handle[]} */
  let handles;
  /** @type {Handle[]} */
  let strings = [];
  if (knob) {
    const h = /** @type {Handle} */ (/** @type {any} */ (knob).handle);
    handles = handlesHere().filter((o) => Math.hypot(o.at[0] - h.at[0], o.at[1] - h.at[1]) < 0.3); // two may lie in one place
  }
  else {
    const name = /** @type {HTMLElement} */ (item).dataset.item ?? '';
    if (name !== state.chosen) choose(name);
    handles = ofItem(name);
  }
  const matrix = svg.getScreenCTM()?.inverse();
  if (!matrix) return;
  const start = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
  let axis = handles.length && handles.every((h) => h.axis === handles[0].axis) ? handles[0].axis : '';
  let begun = false;
  svg.setPointerCapture(event.pointerId);
  /** @param {PointerEvent} e */
  const drag = (e) => {
    const [pu, pv] = [e.clientX - event.clientX, e.clientY - event.clientY];
    if (!begun) {
      if (Math.hypot(pu, pv) < LOCK) return;
      if (!axis) axis = Math.abs(pu) > Math.abs(pv) ? 'u' : 'v';
      handles = handles.filter((h) => h.axis === axis);
      if (!handles.length) { end(); return; }
      begun = true;
      strings = over(handles);
      grasp();
    }
    const now = new DOMPoint(e.clientX, e.clientY).matrixTransform(matrix);
    move(moved(handles, now.x - start.x, start.y - now.y, undefined, strings));
  };
  const end = () => {
    svg.removeEventListener('pointermove', drag);
    svg.removeEventListener('pointerup', end);
    svg.removeEventListener('pointercancel', end);
    if (begun) release();
    else {
      if (knob) /** @type {SVGElement} */ (knob).focus();
      const pressed = /^string\.(\d+)$/.exec(state.chosen);
      if (pressed && handles.every((h) => h.item === state.chosen)) state.pressed = Number(pressed[1]);
      touch('pressed');
    }
  };
  svg.addEventListener('pointermove', drag);
  svg.addEventListener('pointerup', end);
  svg.addEventListener('pointercancel', end);
  event.preventDefault();
}

/** What moves when a thing itself is taken: its place, not its size. @param {string} item */
function ofItem(item) {
  const own = state.scene.handles.filter((/** @type {Handle} */ h) => h.view === state.view && h.item === item);
  const places = /(gap|height|fretted_gap|position|face\.\d+|centre\.\d|bottom|top)$/;
  return item.startsWith('coil') || item.endsWith('.coil') ? [] : own.filter((/** @type {Handle} */ h) => places.test(h.path)
    && !(item.startsWith('body') && h.path.endsWith('.height')));
}

/** Everything that can be chosen, for the keyboard and for readers of screens. @param {HTMLElement} at */
export function chooser(at) {
  const list = make('select', { id: 'item', 'aria-label': 'What is chosen', onchange: () => choose(list.value) });
  at.replaceChildren(list);
  on('scene chosen', () => {
    const items = Object.entries(state.scene.items);
    list.replaceChildren(...items.map(([name, item]) => make('option', { value: name, selected: name === state.chosen }, /** @type {any} */ (item).title)));
    list.value = state.chosen;
  });
}
