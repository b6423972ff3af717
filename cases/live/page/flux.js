// λ of the chosen string over its place, with the tangent that S is; and the string swinging: λ and e on one clock.
import { make } from './dom.js';
import { stringNow, surfaceOf } from './estimate.js';
import { at } from './linkage.js';
import { colour, plot } from './plot.js';
import { sound } from './sound.js';
import { on, state, touch } from './store.js';
import { clock, round, SAMPLES } from './swing.js';
import { number, quantity } from './words.js';

const POINTS = 81;
const [lambda, falling] = [new Float64Array(SAMPLES), new Float64Array(SAMPLES)];
const WIDER = [1, 2, 5, 10, 20, 50];
let way = 'z';
let wider = 1;
let room = 0; // of the swing, m
/** @type {import('./estimate.js').Now | null} */
let now = null;
/** @type {any} */ let curve;
/** @type {any} */ let flow;
/** @type {any} */ let volts;
/** @type {HTMLElement[]} */ let marks = [];
/** @type {any} */ const parts = {};

/** @param {HTMLElement} place */
export function flux(place) {
  parts.head = make('h2', {});
  const ways = make('span', { className: 'bar switch', role: 'group', 'aria-label': 'Moved' },
    ...[['z', 'up and down'], ['y', 'across']].map(([name, words]) => make('button', { type: 'button', 'data-way': name,
      onclick: () => { way = name; touch('maps'); } }, words)));
  const [over, box, below] = [make('div', { className: 'plot' }), make('div', { className: 'plot' }), make('div', { className: 'plot' })];
  parts.said = make('p', { className: 'small' });
  parts.live = make('p', { className: 'small figures' });
  place.append(make('div', { className: 'row' }, parts.head, ways), over, parts.said, controls(), box, below, parts.live);
  sound(place);
  curve = plot(over, { x: 'from its place, mm', y: 'λ, µWb', height: 180, series: [{ label: 'λ', stroke: 'accent' }, { label: 'S', stroke: 'soft', dash: [5, 4] }] });
  flow = plot(box, { x: 'ms', y: 'λ = NΦ, µWb', height: 108, series: [{ label: 'λ', stroke: 'accent' }] });
  volts = plot(below, { x: 'ms, at its own pitch', y: 'e, mV', height: 108, series: [{ label: 'e', stroke: 'accent' }] });
  (curve.hooks.draw ??= []).push(ghosts, loopDrawn);
  marks = [curve, flow, volts].map((u) => u.over.appendChild(make('i', { className: 'mark' })));
  on('maps loop string panel scene strings pins', () => { if (!place.hidden) show(ways); else stop(); });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => [curve, flow, volts].forEach((u) => u.redraw()));
}

function controls() {
  const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
  parts.play = make('button', { type: 'button', id: 'swing', hidden: still, onclick: () => (clock.running ? stop() : start()) }, 'Swing');
  const field = (/** @type {string} */ id, /** @type {string} */ words, /** @type {string} */ unit, /** @type {any} */ set) => {
    const input = make('input', { id, type: 'number', inputMode: 'decimal', ...set });
    return [input, make('label', { for: id, className: 'short' }, words, input, unit)];
  };
  const [amplitude, a] = field('swing-by', '±', 'mm', { value: 1e3 * state.swing, min: 0.05, step: 0.05, title: 'amplitude, mm', 'aria-label': 'amplitude, mm' });
  amplitude.onchange = () => {
    const wanted = Number(amplitude.value) / 1e3;
    if (wanted > 0) state.swing = room ? Math.min(wanted, room) : wanted;
    amplitude.value = String(Number((1e3 * state.swing).toFixed(3)));
    touch('maps');
  };
  const [slow, b] = field('swing-at', 'shown at', 'Hz', { value: clock.slow, min: 0.05, max: 5, step: 0.05 });
  slow.onchange = () => { const v = Number(slow.value); if (v >= 0.05 && v <= 5) clock.slow = v; else slow.value = String(clock.slow); };
  parts.phase = make('input', { id: 'swing-phase', type: 'range', min: 0, max: 360, step: 1, value: 0, 'aria-label': 'phase of the swing, degrees' });
  parts.phase.oninput = () => { const angle = Number(parts.phase.value); stop(); clock.phase = angle * Math.PI / 180; clock.string = state.string; frame(); };
  parts.amplitude = amplitude;
  return make('p', { className: 'bar swing' }, parts.play, a, b, parts.phase);
}

function start() {
  clock.running = true;
  parts.play.textContent = 'Stop';
  let last = performance.now();
  const tick = (/** @type {number} */ t) => {
    if (!clock.running) return;
    clock.phase = (clock.phase + 2 * Math.PI * clock.slow * Math.min(Math.max(t - last, 0), 100) / 1e3) % (2 * Math.PI);
    last = t;
    clock.string = state.string;
    frame();
    requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
}

function stop() {
  if (!clock.running && !clock.string) return;
  clock.running = false;
  clock.string = 0;
  clock.phase = 0;
  parts.phase.value = '0';
  parts.play.textContent = 'Swing';
  frame();
}

/** One picture of the film: three marks and some words. */
function frame() {
  touch('swing');
  if (!now) return;
  const turn = clock.phase / (2 * Math.PI);
  const k = Math.round(turn * SAMPLES) % SAMPLES;
  const f = state.scene.strings[state.string - 1].frequency;
  const up = clock.amplitude * Math.sin(clock.phase);
  put(0, way === 'z' ? 1e3 * up : 0, 1e6 * (way === 'z' ? drawnLoop(k) : lambda[k]));
  put(1, 1e3 * turn / f, 1e6 * lambda[k]);
  put(2, 1e3 * turn / f, 2e3 * Math.PI * f * falling[k]);
  parts.phase.value = String(Math.round(360 * turn));
  parts.live.textContent = `z ${up < 0 ? '−' : '+'}${Math.abs(1e3 * up).toFixed(2)} mm   λ ${number(1e6 * lambda[k], 4)} µWb   e ${(2e3 * Math.PI * f * falling[k]).toFixed(1).replace('-', '−')} mV`;
}

/** @param {number} i @param {number} x @param {number} y */
function put(i, x, y) {
  const u = [curve, flow, volts][i];
  marks[i].style.transform = `translate(${u.valToPos(x, 'x').toFixed(1)}px, ${u.valToPos(y, 'y').toFixed(1)}px)`;
}

/** λ on the loop as it is drawn, wider than it is. @param {number} k */
function drawnLoop(k) {
  const back = (SAMPLES * 3 / 2 - k) % SAMPLES; // at the same place on the other way
  return (lambda[k] + lambda[back]) / 2 + wider * (lambda[k] - lambda[back]) / 2;
}

/** @param {HTMLElement} ways */
function show(ways) {
  now = stringNow(state.string - 1);
  for (const b of /** @type {Iterable<HTMLElement>} */ (ways.children)) b.setAttribute('aria-pressed', String(b.dataset.way === way));
  parts.head.textContent = `Flux of string ${state.string}`;
  const of = now;
  if (!of) return;
  const s = of.surface;
  const answer = state.answers.loop?.answer;
  const loops = answer?.string === state.string && answer.loops && of.known && answer.unmoved === state.answers.maps.answer.unmoved ? answer.loops : [];
  const down = of.z - s.z[0];
  room = loops.length ? Math.min(loops[loops.length - 1].amplitude, down) : Math.min(1e-3, down);
  clock.amplitude = Math.min(state.swing, room);
  round(s, loops, clock.amplitude, of, lambda, falling);
  wider = loops.length ? widening() : 1;
  const drawn = state.scene.strings[state.string - 1];
  const [x, y] = [new Array(POINTS), new Array(POINTS)];
  const [low, high] = way === 'z' ? s.z : s.y;
  for (let i = 0; i < POINTS; i++) {
    const v = low + (high - low) * i / (POINTS - 1);
    x[i] = 1e3 * (v - (way === 'z' ? of.z : of.y));
    y[i] = 1e6 * of.by * (way === 'z' ? at(s, of.y, v) : at(s, v, of.z)).linkage;
  }
  const here = at(s, of.y, of.z);
  const slope = way === 'z' ? Math.sign(here.z) * of.sensitivity : of.by * here.y * of.sensitivity / Math.max(Math.abs(of.by * here.z), 1e-12);
  curve.setData([x, y, x.map((v) => (Math.abs(v) < 1 ? 1e6 * of.linkage + 1e3 * slope * v : null))]);
  const times = Array.from({ length: SAMPLES + 1 }, (_, k) => 1e3 * k / SAMPLES / drawn.frequency);
  flow.setData([times, times.map((_, k) => 1e6 * lambda[k % SAMPLES])]);
  const e = times.map((_, k) => 2e3 * Math.PI * drawn.frequency * falling[k % SAMPLES]);
  volts.setData([times, e]);
  for (const u of [curve, flow, volts]) u.root.parentElement.classList.toggle('dim', !of.known);
  parts.said.textContent = [`Dashed: S ${number(1e3 * of.sensitivity)} mV per m/s${of.about && of.known ? ', estimated here' : ''}.`,
    wider > 1 ? `The loop of its metal is drawn ${wider} times as wide.` : '', of.known ? '' : 'Of the design before.'].filter(Boolean).join(' ');
  parts.amplitude.max = String(1e3 * room);
  const top = Math.max(...e.map(Math.abs));
  parts.live.textContent = `± ${number(1e3 * clock.amplitude, 2)} mm at ${number(drawn.frequency)} Hz: e up to ${quantity(top / 1e3, 'V')}`;
  parts.phase.title = `shown slowed; e is computed at the string's own ${number(drawn.frequency)} Hz`;
  requestAnimationFrame(frame);
}

/** So much that the loop is seen as such: a twentieth of the height that it goes through. */
function widening() {
  let [open, high, low] = [0, -Infinity, Infinity];
  for (let k = 0; k < SAMPLES; k++) {
    open = Math.max(open, Math.abs(lambda[k] - lambda[(SAMPLES * 3 / 2 - k) % SAMPLES]));
    high = Math.max(high, lambda[k]); low = Math.min(low, lambda[k]);
  }
  return open > 0 ? WIDER.find((w) => w * open > 0.08 * (high - low)) ?? 50 : 1;
}

/** @param {any} u */
function loopDrawn(u) {
  if (!now || way !== 'z') return;
  trace(u, 'ink', 1.4, SAMPLES + 1, (k) => [1e3 * clock.amplitude * Math.sin(2 * Math.PI * k / SAMPLES), 1e6 * drawnLoop(k % SAMPLES)], []);
}

/** The pins' curves about their own places. @param {any} u */
function ghosts(u) {
  for (const pin of state.pins) {
    const map = pin.answers.maps?.answer?.strings?.[state.string - 1];
    if (!map?.linkage?.length) continue;
    const s = surfaceOf(map);
    const [low, high] = way === 'z' ? s.z : s.y;
    trace(u, 'soft', 1, POINTS, (i) => {
      const v = low + (high - low) * i / (POINTS - 1);
      return [1e3 * v, 1e6 * (way === 'z' ? at(s, 0, v) : at(s, v, 0)).linkage];
    }, [2, 3]);
  }
}

/** @param {any} u @param {string} ink @param {number} width @param {number} n @param {(k: number) => [number, number]} point @param {number[]} dash */
function trace(u, ink, width, n, point, dash) {
  const c = /** @type {CanvasRenderingContext2D} */ (u.ctx);
  c.save();
  c.beginPath();
  c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  c.clip();
  c.beginPath();
  for (let k = 0; k < n; k++) {
    const [x, y] = point(k);
    c.lineTo(u.valToPos(x, 'x', true), u.valToPos(y, 'y', true));
  }
  c.strokeStyle = colour(ink);
  c.lineWidth = width * devicePixelRatio;
  c.setLineDash(dash.map((d) => d * devicePixelRatio));
  c.stroke();
  c.restore();
}
