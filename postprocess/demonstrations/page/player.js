// The moving picture of a demonstration. All numbers stand in #data; nothing is computed here but places on the screen.

/** @typedef {{ role: string, filled: boolean, path: number[][], label: string, at: number[] | null,
 *   motion: { u: number[], z: number[], turned: number[], about: number[] } | null }} Shape */
/** @typedef {{ title: string, window: number[], shapes: Shape[], lines: number[][][][], phase: number[] | null,
 *   arrows: boolean, carried: { u: number[], z: number[] } | null }} View */
/** @typedef {{ name: string, values: number[], quiet: boolean }} Curve */
/** @typedef {{ name: string, unit: string, areas: boolean, curves: Curve[] }} Trace */
/** @typedef {{ name: string, unit: string, xName: string, xUnit: string, x: number[], y: number[], atX: number[],
 *   atY: number[], tangent: number[], tangentUnit: string }} Slope */
/** @typedef {{ ground: string, ink: string, soft: string, faint: string, lines: string, curves: string[],
 *   fills: Record<string, string> }} Palette */
/** @type {{ time: number[], timeUnit: string, seconds: number, slower: string, views: View[], traces: Trace[],
 *   slope: Slope | null, light: Palette, dark: Palette, dashes: number[][] }} */
const data = JSON.parse(String(document.getElementById('data')?.textContent));
const COUNT = data.time.length;
const NARROW = 560; // dots: a telephone
const SPACE = 'http://www.w3.org/2000/svg';
const still = matchMedia('(prefers-reduced-motion: reduce)');
const darker = matchMedia('(prefers-color-scheme: dark)');

/** @param {string} id */
const byId = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const cursor = /** @type {HTMLInputElement} */ (byId('cursor'));
const play = byId('play');
const slow = /** @type {HTMLInputElement} */ (byId('slow'));

/** @type {((k: number) => void)[]} what follows the clock */
let followers = [];
let at = 0; // of COUNT, not whole
let playing = false;
let before = 0;

/** @param {Element} parent @param {string} name @param {Record<string, string | number>} marks @param {string} [text] */
function add(parent, name, marks, text) {
  const made = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(marks)) made.setAttribute(key, String(value));
  if (text !== undefined) made.textContent = text;
  parent.append(made);
  return made;
}

/** A picture that fills its box. @param {Element} box @param {string} label */
function canvas(box, label) {
  const { width, height } = box.getBoundingClientRect();
  const [w, h] = [Math.max(width, 60), Math.max(height, 60)];
  const svg = add(box, 'svg', { viewBox: `0 0 ${w} ${h}`, role: 'img', 'aria-label': label });
  return { svg, w, h };
}

/** @param {number} value @param {number} count three digits as a class reads them */
function digits(value, count = 3) {
  if (!Number.isFinite(value)) return '–';
  if (value === 0) return '0';
  const places = Math.max(0, count - 1 - Math.floor(Math.log10(Math.abs(value))));
  return value.toFixed(Math.min(places, 6)).replace('-', '−');
}

/** Round steps of an axis. @param {number} low @param {number} high @param {number} most
 * @returns {{ t: number, said: string }[]} */
function ticks(low, high, most) {
  const raw = (high - low) / most;
  const ten = 10 ** Math.floor(Math.log10(raw));
  const steps = [0.5, 1, 2, 5, 10, 4, 8].map((s) => s * ten); // the last two only where no other says a scale
  const count = (/** @type {number} */ s) => Math.floor(high / s) - Math.ceil(low / s) + 1;
  const step = steps.find((s) => count(s) <= most && count(s) > 1) // one number says no scale
    ?? steps.find((s) => s >= raw) ?? 10 * ten;
  const found = [];
  for (let t = Math.ceil(low / step) * step; t <= high + 1e-9 * step; t += step) found.push(Math.abs(t) < step / 1e6 ? 0 : t);
  if (found.length < 2 && most < 20) return ticks(low, high, 1.6 * most);
  const places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return found.map((t) => ({ t, said: t.toFixed(places).replace('-', '−') }));
}

/** @param {number[][]} path @param {(p: number[]) => number[]} place @param {boolean} closed */
const drawnPath = (path, place, closed) => {
  const points = path[0].map((u, i) => place([u, path[1][i]]));
  return points.map((p, i) => `${i ? 'L' : 'M'}${p[0].toFixed(1)} ${p[1].toFixed(1)}`).join('') + (closed ? 'Z' : '');
};

/** @param {View} view @param {Palette} look @param {Element} box */
function drawView(view, look, box) {
  const { svg, w, h } = canvas(box, view.title || 'the picture');
  const [u0, u1, z0, z1] = view.window;
  const scale = Math.min(w / (u1 - u0), h / (z1 - z0));
  const [left, upper] = [(w - scale * (u1 - u0)) / 2, (h - scale * (z1 - z0)) / 2];
  const place = (/** @type {number[]} */ p) => [left + scale * (p[0] - u0), upper + scale * (z1 - p[1])];
  const id = `clip${Math.random().toString(36).slice(2)}`;
  const clip = add(add(svg, 'defs', {}), 'clipPath', { id });
  add(clip, 'rect', { x: left, y: upper, width: scale * (u1 - u0), height: scale * (z1 - z0) });
  const front = add(svg, 'g', { 'clip-path': `url(#${id})` });
  /** @type {Element[]} */
  const labels = [];
  for (const shape of view.shapes) {
    const group = add(front, 'g', {});
    const colour = look.fills[shape.role];
    add(group, 'path', { d: drawnPath(shape.path, place, shape.filled), fill: shape.filled ? colour : 'none',
      stroke: shape.filled ? look.ink : colour, 'stroke-width': shape.filled ? 1 : 3 });
    if (shape.label) {
      const middle = shape.at ?? [0, 1].map((i) => shape.path[i].reduce((a, b) => a + b, 0) / shape.path[i].length);
      const [x, y] = place(middle);
      const label = add(svg, 'text', { x, y: y + 5, 'text-anchor': 'middle', class: 'halo' }, shape.label);
      labels.push(label);
      if (shape.motion) {
        follow(label, shape, place, scale, false);
        keepInside(label, shape, [x, y], scale, [left, upper, left + scale * (u1 - u0), upper + scale * (z1 - z0)]);
      }
    }
    if (shape.motion) follow(group, shape, place, scale, true);
  }
  const { phase, carried } = view;
  if (phase && view.lines.length) {
    const sets = view.lines.map((set) => set.map((line) => drawnPath(line, place, false)).join(''));
    const heads = view.lines.map((set) => (view.arrows ? set.map((line) => arrowHead(line, place)).join('') : ''));
    const group = add(svg, 'g', { 'clip-path': `url(#${id})` });
    const lines = add(group, 'path', { class: 'lines', stroke: look.lines });
    const tips = add(group, 'path', { fill: look.lines });
    let shown = -1;
    followers.push((k) => {
      if (carried) {
        const moved = `translate(${(scale * carried.u[k]).toFixed(2)} ${(-scale * carried.z[k]).toFixed(2)})`;
        for (const one of [lines, tips]) one.setAttribute('transform', moved);
      }
      if (phase[k] === shown) return;
      shown = phase[k];
      lines.setAttribute('d', sets[shown]);
      tips.setAttribute('d', heads[shown]);
    });
  }
  for (const label of labels) svg.append(label); // in front of the lines
}

/** @param {Element} what @param {Shape} shape @param {(p: number[]) => number[]} place @param {number} scale @param {boolean} turn */
function follow(what, shape, place, scale, turn) {
  const motion = shape.motion;
  if (!motion) return;
  const [cx, cy] = place(motion.about);
  followers.push((k) => {
    const angle = turn ? (-180 / Math.PI) * motion.turned[k] : 0;
    const [dx, dy] = [scale * motion.u[k], -scale * motion.z[k]];
    what.setAttribute('transform', `translate(${dx.toFixed(2)} ${dy.toFixed(2)})`
      + (angle ? ` rotate(${angle.toFixed(3)} ${cx.toFixed(1)} ${cy.toFixed(1)})` : ''));
  });
}

/** A word goes with its shape, and out of the picture with it.
 * @param {Element} word @param {Shape} shape @param {number[]} rest @param {number} scale
 * @param {number[]} frame left, top, right, bottom */
function keepInside(word, shape, rest, scale, frame) {
  const { motion } = shape;
  const home = word.parentNode;
  if (!motion || !home) return;
  followers.push((k) => {
    const [x, y] = [rest[0] + scale * motion.u[k], rest[1] - scale * motion.z[k]];
    const inside = x > frame[0] + 8 && x < frame[2] - 8 && y > frame[1] + 12 && y < frame[3] - 12;
    if (inside && !word.isConnected) home.appendChild(word);
    if (!inside) word.remove();
  });
}

/** @param {number[][]} line @param {(p: number[]) => number[]} place */
function arrowHead(line, place) {
  const n = line[0].length;
  if (n < 5) return '';
  const i = Math.floor(n / 2);
  const [a, b] = [place([line[0][i - 1], line[1][i - 1]]), place([line[0][i + 1], line[1][i + 1]])];
  const long = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
  const [dx, dy] = [(b[0] - a[0]) / long, (b[1] - a[1]) / long];
  const tip = [a[0] + 5 * dx, a[1] + 5 * dy];
  return `M${tip[0]} ${tip[1]}L${tip[0] - 10 * dx - 4 * dy} ${tip[1] - 10 * dy + 4 * dx}`
    + `L${tip[0] - 10 * dx + 4 * dy} ${tip[1] - 10 * dy - 4 * dx}Z`;
}

/** Axes with steps; where a point of them is on the screen.
 * @param {Element} svg @param {number[]} box left, top, right, bottom @param {number[]} x @param {number[]} y
 * @param {string} xName @param {string} head @param {number} over how high over the box the head stands */
function axes(svg, box, x, y, xName, head, over = 8) {
  const [left, top, right, bottom] = box;
  const px = (/** @type {number} */ v) => left + ((right - left) * (v - x[0])) / (x[1] - x[0]);
  const py = (/** @type {number} */ v) => bottom - ((bottom - top) * (v - y[0])) / (y[1] - y[0]);
  for (const { t, said } of ticks(y[0], y[1], Math.max(3, (bottom - top) / 28))) {
    add(svg, 'line', { x1: left, x2: right, y1: py(t), y2: py(t), class: t === 0 ? 'axis' : 'grid' });
    add(svg, 'text', { x: left - 6, y: py(t) + 5, 'text-anchor': 'end', class: 'soft' }, said);
  }
  if (xName) {
    for (const { t, said } of ticks(x[0], x[1], Math.max(2, (right - left) / 60))) {
      add(svg, 'line', { x1: px(t), x2: px(t), y1: bottom, y2: bottom + 5, class: 'axis' });
      add(svg, 'text', { x: px(t), y: bottom + 21, 'text-anchor': 'middle', class: 'soft' }, said);
    }
    add(svg, 'text', { x: right, y: bottom + 41, 'text-anchor': 'end', class: 'soft' }, xName);
  }
  add(svg, 'line', { x1: left, x2: right, y1: bottom, y2: bottom, class: 'axis' });
  add(svg, 'text', { x: left, y: top - over, class: 'head' }, head);
  return { px, py };
}

/** @param {number[][]} all */
function range(all) {
  const every = all.flat();
  let [low, high] = [Math.min(...every), Math.max(...every)];
  if (high - low < 1e-12 * Math.max(Math.abs(high), 1e-30)) [low, high] = [low - 1, high + 1];
  const air = 0.08 * (high - low);
  return [low - air, high + air];
}

/** How much room words take at most, in dots. @param {string[]} words */
const wide = (words) => words.reduce((sum, word) => sum + 10 * word.length, 0);

/** @param {Palette} look @param {Element} box */
function drawTraces(look, box) {
  const slope = data.slope;
  const { svg, w, h } = canvas(box, data.traces.map((t) => t.name).join(', ') + ' over time');
  const below = slope !== null && w < NARROW; // else it stands beside the traces
  const side = slope && !below ? Math.min(0.4 * w, 330) : 0;
  const [left, right, foot] = [70, w - side - 14, (below ? 0.7 * h : h) - 46];
  const each = foot / data.traces.length;
  const time = [data.time[0], data.time[COUNT - 1]];
  data.traces.forEach((trace, i) => {
    const last = i === data.traces.length - 1;
    const names = trace.curves.length > 1 ? trace.curves.map((c) => c.name) : [];
    const crowded = wide([...names, trace.name]) + 50 * names.length > right - left; // its legend takes a line of its own
    const frame = [left, i * each + (crowded ? 52 : 30), right, (i + 1) * each - (last ? 0 : 8)];
    const unit = trace.unit ? ` (${trace.unit})` : '';
    const { px, py } = axes(svg, frame, time, range(trace.curves.map((c) => c.values)), last ? `time (${data.timeUnit})` : '',
      trace.name + unit, crowded ? 30 : 8);
    trace.curves.forEach((curve, n) => {
      const path = drawnPath([data.time, curve.values], (p) => [px(p[0]), py(p[1])], false);
      if (trace.areas && n === 0) {
        add(svg, 'path', { d: `${path}L${px(time[1])} ${py(0)}L${px(time[0])} ${py(0)}Z`, fill: look.curves[0], opacity: 0.2 });
      }
      const thick = curve.quiet ? 1.4 : 2.4;
      add(svg, 'path', { d: path, fill: 'none', stroke: look.curves[n % look.curves.length], 'stroke-width': thick,
        'stroke-dasharray': data.dashes[n % data.dashes.length].map((d) => d * thick).join(' ') });
    });
    if (names.length) legend(svg, names, look, frame[2], frame[1] - 8);
    const mark = add(svg, 'line', { y1: frame[1], y2: frame[3], class: 'cursor' });
    const dot = add(svg, 'circle', { r: 5, fill: look.curves[0], stroke: look.ground, 'stroke-width': 1.5 });
    followers.push((k) => {
      const x = px(data.time[k]);
      mark.setAttribute('x1', String(x));
      mark.setAttribute('x2', String(x));
      dot.setAttribute('cx', String(x));
      dot.setAttribute('cy', String(py(trace.curves[0].values[k])));
    });
  });
  if (slope) {
    drawSlope(svg, slope, look, below ? [left, foot + 84, right, h - 46] : [w - side + 62, 30, w - 8, Math.min(foot, 30 + side)]);
  }
}

/** @param {Element} svg @param {string[]} names @param {Palette} look @param {number} right @param {number} y */
function legend(svg, names, look, right, y) {
  let x = right;
  for (let n = names.length - 1; n >= 0; n--) {
    const text = /** @type {SVGTextElement} */ (add(svg, 'text', { x, y, 'text-anchor': 'end' }, names[n]));
    x -= text.getComputedTextLength() + 6;
    add(svg, 'line', { x1: x - 26, x2: x, y1: y - 5, y2: y - 5, stroke: look.curves[n % look.curves.length],
      'stroke-width': 2.4, 'stroke-dasharray': data.dashes[n % data.dashes.length].map((d) => d * 2.4).join(' ') });
    x -= 40;
  }
}

/** @param {Element} svg @param {Slope} slope @param {Palette} look @param {number[]} box */
function drawSlope(svg, slope, look, box) {
  const [xs, ys] = [range([slope.x]), range([slope.y])];
  const { px, py } = axes(svg, box, xs, ys, `${slope.xName} (${slope.xUnit})`, `${slope.name} (${slope.unit})`);
  add(svg, 'path', { d: drawnPath([slope.x, slope.y], (p) => [px(p[0]), py(p[1])], false), fill: 'none',
    stroke: look.curves[0], 'stroke-width': 2.4 });
  const line = add(svg, 'line', { stroke: look.curves[1], 'stroke-width': 2 });
  const dot = add(svg, 'circle', { r: 5, fill: look.curves[1], stroke: look.ground, 'stroke-width': 1.5 });
  followers.push((k) => {
    const [x, y, t] = [slope.atX[k], slope.atY[k], slope.tangent[k]];
    const reach = Math.min(0.25 * (xs[1] - xs[0]), (0.3 * (ys[1] - ys[0])) / Math.max(Math.abs(t), 1e-30));
    dot.setAttribute('cx', String(px(x)));
    dot.setAttribute('cy', String(py(y)));
    [[1, x - reach, y - reach * t], [2, x + reach, y + reach * t]].forEach(([n, u, v]) => {
      line.setAttribute(`x${n}`, String(px(u)));
      line.setAttribute(`y${n}`, String(py(v)));
    });
  });
}

function drawValues() {
  const list = byId('values');
  list.replaceChildren();
  /** @param {string} name @param {(k: number) => string} said */
  const entry = (name, said) => {
    const [row, dt, dd] = ['div', 'dt', 'dd'].map((tag) => document.createElement(tag));
    dt.textContent = name;
    row.append(dt, dd);
    list.append(row);
    followers.push((k) => { dd.textContent = said(k); });
  };
  for (const trace of data.traces) {
    entry(trace.name, (k) => `${digits(trace.curves[0].values[k], 4)} ${trace.unit}`);
  }
  const slope = data.slope;
  if (slope) entry('slope', (k) => `${digits(slope.tangent[k])} ${slope.tangentUnit}`);
}

/** Draw all anew: at the beginning, and when the window or the colours have changed. */
function layOut() {
  const look = darker.matches ? data.dark : data.light;
  followers = [];
  const [views, traces] = [byId('views'), byId('traces')];
  byId('stage').classList.toggle('many', data.views.length > 2);
  traces.classList.toggle('sloped', data.slope !== null);
  views.replaceChildren();
  traces.replaceChildren();
  const boxes = data.views.map((view) => { // all, before one is measured
    const figure = views.appendChild(document.createElement('figure'));
    if (view.title) figure.appendChild(document.createElement('figcaption')).textContent = view.title;
    return figure.appendChild(document.createElement('div'));
  });
  data.views.forEach((view, i) => drawView(view, look, boxes[i]));
  drawTraces(look, traces);
  drawValues();
  show();
}

function show() {
  const k = Math.min(COUNT - 1, Math.floor(at));
  for (const tell of followers) tell(k);
  cursor.value = String(k);
  const said = `${digits(data.time[k], 3)} ${data.timeUnit}`;
  cursor.setAttribute('aria-valuetext', said);
  byId('now').textContent = `t = ${said}`;
}

/** @param {number} now */
function tick(now) {
  if (!playing) return;
  const speed = (COUNT / data.seconds) * (slow.checked ? 0.25 : 1);
  at = (at + (speed * Math.max(0, Math.min(now - before, 200))) / 1000) % COUNT; // a frame may be older than the click
  before = now;
  show();
  requestAnimationFrame(tick);
}

/** @param {boolean} on */
function setPlaying(on) {
  playing = on;
  play.textContent = on ? 'Pause' : 'Play';
  play.setAttribute('aria-pressed', String(on));
  before = performance.now();
  if (on) requestAnimationFrame(tick);
}

/** @param {number} by */
function step(by) {
  setPlaying(false);
  at = (Math.floor(at) + by + COUNT) % COUNT;
  show();
}

cursor.max = String(COUNT - 1);
cursor.addEventListener('input', () => { setPlaying(false); at = Number(cursor.value); show(); });
play.addEventListener('click', () => setPlaying(!playing));
byId('back').addEventListener('click', () => step(-1));
byId('on').addEventListener('click', () => step(1));
addEventListener('resize', layOut);
darker.addEventListener('change', layOut);
layOut();
if (!still.matches) setPlaying(true);
