// The pickup in space: to turn by hand or by arrow keys; strings in the colour of their axial flux density.
import { make } from './dom.js';
import { colour } from './plot.js';
import { fresh, on, state } from './store.js';
import { number } from './words.js';

const REACH = 16; // mm of string shown to each side
const FACETS = 48;
const TURN = Math.PI / 24; // by an arrow key
const HOME = { round: -0.55, up: 0.5, far: 0.8 };
const MISSING = 'there is no WebGL in this browser, so nothing is shown in space; the other views are all there';

/** The library, once somebody looks. @type {any} */
let three = null;
/** @type {HTMLElement} */
let box;
/** @type {HTMLCanvasElement} */
let canvas;
/** @type {HTMLElement} */
let says;
/** @type {any} */
let renderer;
/** @type {any} */
let stage;
/** @type {any} */
let camera;
/** @type {any} */
let group;
let ways = { ...HOME };
let waiting = false;
let begun = false;

/** @param {HTMLElement} place what the drawing is in */
export function space(place) {
  canvas = /** @type {HTMLCanvasElement} */ (make('canvas', { id: 'in-space', tabIndex: 0, role: 'application',
    'aria-label': 'the pickup in space; arrows turn it, + and − zoom, Home puts it back' }));
  says = make('p', { id: 'space-says' });
  box = make('div', { className: 'space' }, canvas, says);
  place.append(box);
  canvas.addEventListener('keydown', key);
  canvas.addEventListener('pointerdown', drag);
  canvas.addEventListener('wheel', (event) => { event.preventDefault(); zoom(Math.exp(event.deltaY / 800)); }, { passive: false });
  new ResizeObserver(draw).observe(canvas);
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { build(); });
  on('view opened', () => { place.classList.toggle('in-space', state.view === 'space'); if (state.view === 'space') open(); });
  on('scene space', build);
}

async function open() {
  if (!begun) {
    begun = true;
    try {
      three = await import(/** @type {any} */ (globalThis).stringfluxModules?.['vendor/three.module.js'] ?? String('./vendor/three.module.js'));
      renderer = new three.WebGLRenderer({ canvas, antialias: true });
    } catch {
      three = null;
      canvas.hidden = true;
      says.textContent = MISSING;
      return;
    }
    renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    stage = new three.Scene();
    camera = new three.PerspectiveCamera(30, 1, 1, 2000);
    camera.up.set(0, 0, 1);
    const sun = new three.DirectionalLight(0xffffff, 1.6);
    sun.position.set(0.3, -0.4, 1);
    camera.add(sun);
    stage.add(camera, new three.HemisphereLight(0xffffff, 0x8890a0, 1.6));
  }
  build();
}

/** Make all of it anew from the scene. */
function build() {
  if (!renderer || state.view !== 'space' || !state.scene) return;
  if (group) {
    stage.remove(group);
    group.traverse((/** @type {any} */ node) => { node.geometry?.dispose(); node.material?.dispose(); });
  }
  group = new three.Group();
  const skin = { magnet: colour('magnet'), soft: colour('steel'), inert: colour('inert') };
  for (const s of state.scene.solids) {
    const material = new three.MeshLambertMaterial({ color: /** @type {Record<string, string>} */ (skin)[s.kind], flatShading: true, side: three.DoubleSide,
      transparent: Boolean(s.wall), opacity: s.wall ? 0.25 : 1, depthWrite: !s.wall });
    group.add(new three.Mesh(solid(s), material));
  }
  for (const w of state.scene.windings) {
    group.add(new three.Mesh(winding(w), new three.MeshLambertMaterial({ color: colour('copper'), transparent: true, opacity: 0.38,
      depthWrite: false, side: three.DoubleSide })));
  }
  strings();
  lines();
  stage.background = new three.Color(colour('paper'));
  stage.add(group);
  draw();
}

/** @param {any} s */
function solid(s) {
  if (s.form === 'revolved') {
    const points = [];
    for (let i = 0; i < s.outline.length; i += 2) points.push(new three.Vector2(Math.max(s.outline[i], 0), s.outline[i + 1]));
    points.push(points[0].clone());
    return new three.LatheGeometry(points, FACETS).rotateX(Math.PI / 2).translate(s.x, s.y, 0);
  }
  if (s.form === 'cylinder') {
    const made = new three.CylinderGeometry(s.radius, s.radius, s.length, FACETS).translate(0, s.length / 2, 0);
    if (s.along === 0) made.rotateZ(-Math.PI / 2);
    if (s.along === 2) made.rotateX(Math.PI / 2);
    return made.translate(...s.base);
  }
  if (s.form === 'facets') {
    const made = new three.BufferGeometry();
    made.setAttribute('position', new three.BufferAttribute(new Float32Array(s.points), 3));
    made.setIndex(s.triangles);
    return made;
  }
  const size = [0, 1, 2].map((k) => s.high[k] - s.low[k]);
  return new three.BoxGeometry(...size).translate(...[0, 1, 2].map((k) => s.low[k] + size[k] / 2));
}

/** Between two stadium curves. @param {any} w */
function winding(w) {
  if (w.rim) {
    const rim = ring(new three.Shape(), w.rim);
    rim.holes.push(ring(new three.Path(), w.hole));
    return new three.ExtrudeGeometry(rim, { depth: w.top - w.bottom, bevelEnabled: false }).translate(0, 0, w.bottom);
  }
  const outer = stadium(new three.Shape(), w.outer, w.half);
  outer.holes.push(stadium(new three.Path(), w.inner, w.half));
  return new three.ExtrudeGeometry(outer, { depth: w.top - w.bottom, bevelEnabled: false, curveSegments: FACETS / 2 }).translate(w.x, w.y, w.bottom);
}

/** Through points x, y one after the other. @param {any} path @param {number[]} points */
function ring(path, points) {
  path.moveTo(points[0], points[1]);
  for (let i = 2; i < points.length; i += 2) path.lineTo(points[i], points[i + 1]);
  return path;
}

/** @param {any} path @param {number} r @param {number} half */
function stadium(path, r, half) {
  path.moveTo(r, -half);
  path.lineTo(r, half);
  path.absarc(0, half, r, 0, Math.PI, false);
  path.lineTo(-r, -half);
  path.absarc(0, -half, r, Math.PI, 2 * Math.PI, false);
  return path;
}

/** In their thickness, coloured by the axial flux density in the steel. */
function strings() {
  const found = state.answers.space?.answer?.strings ?? [];
  const most = Math.max(...found.map((/** @type {any} */ f) => f.flux_density.reduce((/** @type {number} */ a, /** @type {number} */ b) => Math.max(a, Math.abs(b)), 0)), 1e-6);
  for (const s of state.scene.strings) {
    const radius = Math.max(s.radius, 0.12);
    const long = Math.hypot(1, s.slope) * 2 * REACH;
    const tube = new three.CylinderGeometry(radius, radius, long, 14, 64, true).rotateZ(-Math.PI / 2);
    const known = found.find((/** @type {any} */ f) => f.number === s.number);
    const place = tube.attributes.position;
    const colours = new Float32Array(3 * place.count);
    for (let i = 0; i < place.count; i += 1) {
      const share = known ? between(known.x, known.flux_density, place.getX(i) / 1e3) / most : 0;
      colours.set(ramp(share), 3 * i);
    }
    tube.setAttribute('color', new three.BufferAttribute(colours, 3));
    tube.rotateY(-Math.atan(s.slope)).translate(0, s.y, s.z);
    group.add(new three.Mesh(tube, new three.MeshLambertMaterial({ vertexColors: true })));
  }
  says.replaceChildren(found.length ? make('span', {}, `${fresh('space') ? '' : 'of the design before: '}axial flux density in the strings`) : 'the strings are being computed',
    ...(found.length ? [make('span', {}, `−${number(most, 2)} T`), make('span', { className: 'ramp' }), make('span', {}, `+${number(most, 2)} T, towards the bridge`)] : []),
    make('span', {}, 'drag or arrows turn, wheel or + − zoom, Home puts it back'));
}

/** Field lines in the plane through the row. */
function lines() {
  const plane = fresh('fields') ? state.answers.fields?.answer?.planes?.along : null;
  if (!plane) return;
  const material = new three.LineBasicMaterial({ color: colour('soft') });
  for (const line of plane.lines) {
    const n = line.length / 2;
    const places = new Float32Array(3 * n);
    for (let i = 0; i < n; i += 1) places.set([0, 1e3 * line[i], 1e3 * line[n + i]], 3 * i);
    const made = new three.BufferGeometry();
    made.setAttribute('position', new three.BufferAttribute(places, 3));
    group.add(new three.Line(made, material));
  }
}

/** @param {Float32Array} x rising @param {Float32Array} y @param {number} at */
function between(x, y, at) {
  let i = 1;
  while (i < x.length - 1 && x[i] < at) i += 1;
  const share = Math.min(Math.max((at - x[i - 1]) / (x[i] - x[i - 1]), 0), 1);
  return y[i - 1] + share * (y[i] - y[i - 1]);
}

/** Blue, grey, orange for −1, 0, 1. @param {number} share */
function ramp(share) {
  const ends = share < 0 ? [0x21, 0x66, 0xac] : [0xb3, 0x58, 0x06];
  const far = Math.min(Math.abs(share), 1);
  return [0xd9, 0xde, 0xe3].map((c, k) => ((c + far * (ends[k] - c)) / 255) ** 2.2); // as light, not as a screen's number
}

/** Draw once, at the next frame. */
function draw() {
  if (!renderer || !group || state.view !== 'space' || waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    const [w, h] = [canvas.clientWidth, canvas.clientHeight];
    if (!w || !h) return;
    const size = renderer.getSize(new three.Vector2());
    if (size.x !== w || size.y !== h) renderer.setSize(w, h, false);
    const { low, high } = state.scene.bounds;
    const middle = [0, 1, 2].map((k) => (low[k] + high[k]) / 2);
    const half = Math.hypot(...[0, 1, 2].map((k) => (high[k] - low[k]) / 2));
    camera.aspect = w / h;
    const far = ways.far * half / Math.tan(Math.PI / 12) / Math.min(1, Math.max(camera.aspect / 1.6, 0.4));
    camera.position.set(middle[0] + far * Math.cos(ways.up) * Math.cos(ways.round), middle[1] + far * Math.cos(ways.up) * Math.sin(ways.round),
      middle[2] + far * Math.sin(ways.up));
    camera.lookAt(...middle);
    camera.updateProjectionMatrix();
    const begin = performance.now();
    renderer.render(stage, camera);
    performance.measure('in space', { start: begin, end: performance.now() });
    canvas.dataset.frames = String(Number(canvas.dataset.frames ?? 0) + 1);
  });
}

/** @param {number} by */
function zoom(by) {
  ways.far = Math.min(Math.max(ways.far * by, 0.25), 4);
  draw();
}

/** @param {number} round @param {number} up */
function turn(round, up) {
  ways.round += round;
  ways.up = Math.min(Math.max(ways.up + up, -1.5), 1.5);
  draw();
}

/** @param {KeyboardEvent} event */
function key(event) {
  const acts = /** @type {Record<string, () => void>} */ ({ ArrowLeft: () => turn(-TURN, 0), ArrowRight: () => turn(TURN, 0), ArrowUp: () => turn(0, TURN),
    ArrowDown: () => turn(0, -TURN), '+': () => zoom(0.85), '=': () => zoom(0.85), '-': () => zoom(1 / 0.85), Home: () => { ways = { ...HOME }; draw(); } });
  if (!acts[event.key] || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  acts[event.key]();
}

/** @param {PointerEvent} event */
function drag(event) {
  if (event.button !== 0) return;
  canvas.setPointerCapture(event.pointerId);
  let [x, y] = [event.clientX, event.clientY];
  /** @param {PointerEvent} e */
  const moved = (e) => {
    turn((x - e.clientX) / 160, (e.clientY - y) / 160);
    [x, y] = [e.clientX, e.clientY];
  };
  canvas.addEventListener('pointermove', moved);
  const end = () => canvas.removeEventListener('pointermove', moved);
  canvas.addEventListener('pointerup', end, { once: true });
  canvas.addEventListener('pointercancel', end, { once: true });
}
