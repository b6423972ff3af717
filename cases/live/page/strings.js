// Every string: how loud, in what field, how far the magnets pull it.
import { draw, make } from './dom.js';
import { stringNow } from './estimate.js';
import { choose, firstLook, fresh, on, state } from './store.js';
import { number, signed } from './words.js';

const HEADS = [['string', ''], ['gap', ''], ['S, mV per m/s', ''], ['level', 'against the loudest, all moving equally fast'],
  ['equal pluck force', 'against the loudest, all plucked with the same force; the bar is how far off even: ▲ loudest, ▼ weakest'], ['doubt of S', 'half of its range, for what is not known of its steel and its wrap'], ['field at string, G (mT)', ''], ['pull', '']];

/** @param {HTMLElement} place */
export function strings(place) {
  on('scene moved estimate strings maps loop pull chosen pins', () => show(place));
}

/** @param {HTMLElement} place */
function show(place) {
  const found = state.answers.strings?.answer;
  if (!state.scene || !found || found.refused) {
    place.replaceChildren(make('p', { className: 'dim' }, found?.refused ?? ''));
    return;
  }
  const pull = state.answers.pull?.answer?.strings ?? [];
  const now = state.scene.strings.map((/** @type {any} */ s, /** @type {number} */ i) => (fresh('strings') ? null : stringNow(i)));
  const about = now.length && now.every((/** @type {any} */ n) => n?.known);
  const looked = about ? null : firstLook(); // by the program, before its figures are there
  const loudest = about ? Math.max(...now.map((/** @type {any} */ n) => n.sensitivity)) : 0;
  const plucked = about ? found.strings.map((/** @type {any} */ of, /** @type {number} */ i) => of.level_force + 20 * Math.log10(now[i]?.sensitivity / of.sensitivity)) : [];
  const highest = Math.max(...plucked);
  const levels = found.strings.map((/** @type {any} */ of, /** @type {number} */ i) => (about ? plucked[i] - highest : looked?.[i]?.level_force ?? of.level_force));
  const heard = levels.filter((/** @type {any} */ l) => l !== null && Number.isFinite(l));
  const even = heard.reduce((/** @type {number} */ a, /** @type {number} */ l) => a + l, 0) / heard.length;
  const [most, fewest] = heard.length > 1 ? [Math.max(...heard), Math.min(...heard)] : [NaN, NaN];
  const rows = found.strings.map((/** @type {any} */ of, /** @type {number} */ i) => {
    const s = about ? { ...of, sensitivity: now[i].sensitivity, level: 20 * Math.log10(now[i].sensitivity / loudest), level_force: levels[i] } : { ...of, ...looked?.[i] };
    const guessed = about || looked?.[i]?.anew;
    const drawn = state.scene.strings[i];
    if (!drawn) return '';
    const item = `string.${s.number}`;
    const [low, high] = s.band;
    const doubt = of.sensitivity ? 20 * Math.log10(high / low) / 2 : null;
    const ghosts = state.pins.map((pin) => [pin.name, pin.answers.strings?.answer?.strings?.[i]]).filter(([, g]) => g);
    const force = levels[i];
    const mark = force === most ? ' ▲' : force === fewest ? ' ▼' : '';
    return make('tr', { className: item === state.chosen ? 'chosen' : '', onclick: () => choose(item) },
      make('th', { scope: 'row' }, make('button', { type: 'button', onclick: () => choose(item) }, `${s.number} ${drawn.pitch}`)),
      make('td', {}, `${number(drawn.gap)} mm`),
      make('td', { className: looked && !guessed ? 'dim' : '', title: guessed ? 'estimated, until the figures are there' : '' }, `${guessed ? '≈ ' : ''}${number(1e3 * s.sensitivity)}`), make('td', {}, signed(s.level),
        ...ghosts.map(([name, g]) => apart(name, 20 * Math.log10(s.sensitivity / g.sensitivity)))),
      make('td', {}, offEven(force - even), ` ${signed(force)}${mark}`),
      make('td', {}, doubt === null ? '–' : `± ${doubt.toFixed(1)} dB`),
      make('td', { className: about || looked && !guessed ? 'dim' : '' }, `${(1e4 * s.bias[2]).toFixed(0)} (${number(1e3 * s.bias[2])})`),
      make('td', { className: (about || looked) && !fresh('pull') ? 'dim' : '' }, pull[i] ? signed(pull[i].cents_z, 'ct') : '–'));
  });
  const table = make('table', { className: fresh('strings') || about || looked ? '' : 'dim' },
    make('thead', {}, make('tr', {}, ...HEADS.map(([h, title]) => make('th', { scope: 'col', title }, h)))),
    make('tbody', {}, ...rows));
  const held = [...place.querySelectorAll('button')].indexOf(/** @type {any} */ (document.activeElement));
  place.replaceChildren(table);
  if (held >= 0) place.querySelectorAll('button')[held]?.focus();
}

/** S against a pin, where it differs. @param {string} name @param {number} db */
function apart(name, db) {
  return Math.abs(db) < 0.05 ? '' : make('span', { className: 'ghost', title: `S against pin ${name}` }, ` ${name} ${signed(db)}`);
}

const REACH = 8; // dB at either end of a bar

/** How far a string is off the mean of all, the target of an even set. @param {number} db */
function offEven(db) {
  const at = Number.isFinite(db) ? 40 + 38 * Math.max(-1, Math.min(1, db / REACH)) : 40;
  return draw('svg', { class: 'even', viewBox: '0 0 80 12', role: 'img', 'aria-label': `${signed(db)} off even` },
    draw('rect', { x: 2, y: 4, width: 76, height: 4, class: 'track' }), draw('rect', { x: Math.min(at, 40), y: 3, width: Math.abs(at - 40), height: 6, class: 'off' }),
    draw('line', { x1: 40, x2: 40, y1: 0, y2: 12 }));
}
